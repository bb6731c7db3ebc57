import { describe, expect, it } from 'vitest';
import { Fault } from '../../lib/base/fault.js';
import { sharingOf } from '../../lib/drives/motor.js';
import { type DrivesJson, drives, machineWith, motor } from './machines.js';

const codeOf = (work: () => unknown): string => {
  try {
    work();
  } catch (error) {
    if (error instanceof Fault) return error.code;
    throw error;
  }
  return 'none';
};

const oneDrive = (change: object): Partial<DrivesJson> => ({
  drives: [{ ...drives().drives[3]!, ...change }, ...drives().drives.filter((_, i) => i !== 3)],
});

describe('drive data that do not fit', () => {
  it.each<[string, string, Partial<DrivesJson>]>([
    ['a motor that is not listed', 'machine/unknown-motor', oneDrive({ motor: 'other' })],
    ['a joint that is not there', 'machine/unknown-joint', oneDrive({ ratio: { B: 20 } })],
    ['a ratio for a linear joint', 'machine/drive-kind', oneDrive({ ratio: { X: 20 } })],
    ['a drive of nothing', 'machine/drive-idle', oneDrive({ ratio: {} })],
    [
      'a belt without its pulley',
      'machine/belt',
      oneDrive({ belt: { stiffness: 1e4, span: 100 } }),
    ],
    [
      'a curve that starts late',
      'machine/motor-curve',
      {
        motors: [
          {
            ...motor,
            curve: [
              [10, 0.3],
              [500, 0],
            ],
          },
        ],
      },
    ],
    [
      'a curve that turns back',
      'machine/motor-curve',
      {
        motors: [
          {
            ...motor,
            curve: [
              [0, 0.3],
              [500, 0.1],
              [400, 0],
            ],
          },
        ],
      },
    ],
    ['no reserve', 'machine/bad-value', { reserve: 0.5 }],
    [
      'a body on a joint that is not there',
      'machine/unknown-joint',
      {
        bodies: [
          {
            name: 'x',
            carriedBy: 'B',
            mass: 1,
            solid: { shape: 'box', from: [0, 0, 0], to: [1, 1, 1] },
          },
        ],
      },
    ],
    [
      'a body inside out',
      'machine/box',
      {
        bodies: [
          {
            name: 'x',
            carriedBy: 'A',
            mass: 1,
            solid: { shape: 'box', from: [0, 0, 2], to: [1, 1, 1] },
          },
        ],
      },
    ],
  ])('%s: %s', (_, code, change) => {
    expect(codeOf(() => machineWith(change))).toBe(code);
  });

  it('a joint that nothing drives', () => {
    const machine = machineWith({ drives: drives().drives.slice(0, 4) });
    expect(codeOf(() => sharingOf(machine, machine.drives!))).toBe('drives/joint-undriven');
  });

  it('two drives that move two joints alike', () => {
    const [m0, , ...rest] = drives().drives;
    const machine = machineWith({ drives: [m0!, { ...m0!, name: 'm1' }, ...rest] });
    expect(codeOf(() => sharingOf(machine, machine.drives!))).toBe('drives/coupling');
  });
});
