/**
 * The simulator of machines that feel their way is held against the worked examples of table-table kinematics with
 * published conventions (test/machine/forward tests name the source), so that it is a measure for the fit.
 */
import { describe, expect, it } from 'vitest';
import { TouchingMachine, type TrueErrors } from '../support/touching-machine.js';

const NONE: TrueErrors = {
  rotary: {
    A: { turned: [0, 0, 0], shifted: [0, 0, 0] },
    C: { turned: [0, 0, 0], shifted: [0, 0, 0] },
  },
  square: [0, 0, 0],
  face: [0, 0, 0],
  runOut: [0, 0],
  flat: 0,
  target: [0, 0, 0],
};
const linear = (letter: string, axis: number[]): object => ({ kind: 'linear', letter, axis });
const rotary = (letter: string, axis: number[], point: number[]): object => {
  return { kind: 'rotary', letter, axis, point };
};
const file = {
  positive: 'body',
  head: { joints: [linear('Z', [0, 0, 1]), linear('Y', [0, 1, 0]), linear('X', [1, 0, 0])] },
  table: { joints: [rotary('A', [1, 0, 0], [0, 5, -40]), rotary('C', [0, 0, 1], [0, 0, 0])] },
  nozzle: { flat: 0.8 },
};

describe('machine without errors', () => {
  const machine = new TouchingMachine(file, NONE, {}, [{ at: [10, 20, 30], diameter: 20 }]);

  it('A 30 C 60 with the A axis at (0, 5, -40): joints -12.3205, -18.1699, 27.4519 reach (10, 20, 30)', () => {
    // J = d + Rx(A) [Rz(C) p - d] with d = (0, 5, -40), and k = (sin A sin C, sin A cos C, cos A).
    const { at, up } = machine.tip([27.451905284, -18.169872981, -12.320508076, 30, 60]);
    [10, 20, 30].forEach((v, k) => expect(at[k]).toBeCloseTo(v, 7));
    [0.4330127, 0.25, 0.8660254].forEach((v, k) => expect(up[k]).toBeCloseTo(v, 7));
  });

  it('over the middle of a ball of 20 mm the flat touches 10 mm over its centre; a rim 3 mm aside at its own height', () => {
    const down = [-1, 0, 0, 0, 0];
    expect(machine.feel('ball', [60, 20, 10, 0, 0], down, 40, 0)).toBeCloseTo(60 - 40, 9);
    // Rim at 3 mm from the axis of the ball: sqrt(100 - 9).
    const way = machine.feel('ball', [60, 20, 13.4, 0, 0], down, 40, 0);
    expect(way).toBeCloseTo(60 - 30 - Math.sqrt(91), 9);
    expect(machine.feel('ball', [60, 20, 25, 0, 0], down, 25, 0)).toBeUndefined();
  });

  it('over the face tilted by 30 deg the rim touches 0.4 tan 30 earlier', () => {
    const from = [60, 5, 0, 30, 0];
    const way = machine.feel('face', from, [-1, 0, 0, 0, 0], 100, 0)!;
    // The face is 40 mm over the axis: at Y of the axis it stands 40 / cos 30 over it.
    expect(60 - way).toBeCloseTo(-40 + 40 / Math.cos(Math.PI / 6) + 0.4 * Math.tan(Math.PI / 6), 9);
  });
});
