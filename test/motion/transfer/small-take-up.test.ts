/** The move that brings joints with play to the lower side of it: when it is made, where it leads, and when not. */
import { describe, expect, it } from 'vitest';
import { DEG } from '../../../lib/base/vector.js';
import type { Machine } from '../../../lib/machine/machine.js';
import { takeUpBacklash } from '../../../lib/motion/transfer/take-up-backlash.js';
import type { Transfer } from '../../../lib/motion/transfer/transfer.js';
import { type Json, acJson, machineOf } from '../../machine/machines.js';
import { printed } from './scenes.js';

const PLAY = 0.05;

/** Play of A and C, deg. */
function withPlay(a: number, c: number, change: Partial<Json> = {}): Machine {
  const json = acJson();
  const [first, second] = json.table.joints as [object, object];
  const joints = [
    { ...first, backlash: a },
    { ...second, backlash: c },
  ] as never;
  return machineOf({ ...json, ...change, table: { ...json.table, joints } });
}

type Places = readonly (readonly [z: number, a: number, c: number])[];

/** Over the middle of an empty table: places by Z, mm, and A and C, deg. */
const at = ([z, a, c]: Places[number]): Float64Array => Float64Array.of(0, 0, z, a * DEG, c * DEG);

const transfer = (places: Places, change: Partial<Transfer> = {}): Transfer => ({
  knots: places.map(at),
  trouble: undefined,
  kept: 1,
  ...change,
});

function taken(
  machine: Machine,
  start: Places[number],
  way: Transfer,
  known = true,
): { knots: number[][]; missed: readonly number[]; same: boolean } {
  const done = takeUpBacklash(printed(machine, []).scene, at(start), way, known);
  const knots = done.transfer.knots.map((q) =>
    [q[2]!, q[3]! / DEG, q[4]! / DEG].map((x) => Number(x.toFixed(9))),
  );
  return { knots, missed: done.missed, same: done.transfer === way };
}

const both = withPlay(PLAY, PLAY);

describe('joints that come down', () => {
  it('go past their value by twice the play, before the last but one place', () => {
    const way = transfer([
      [150, 20, 40],
      [150, 10, 30],
      [100, 10, 30],
    ]);
    expect(taken(both, [100, 20, 40], way)).toEqual({
      knots: [
        [150, 20, 40],
        [150, 10 - 0.1, 30 - 0.1],
        [150, 10, 30],
        [100, 10, 30],
      ],
      missed: [],
      same: false,
    });
  });

  it('only those: C comes up, A goes on from where it turned last', () => {
    const way = transfer([
      [150, 20, 10],
      [150, 10, 30],
      [140, 10, 30],
      [100, 10, 30],
    ]);
    expect(taken(both, [100, 20, 10], way).knots).toEqual([
      [150, 20, 10],
      [150, 10, 30],
      [140, 10 - 0.1, 30],
      [140, 10, 30],
      [100, 10, 30],
    ]);
  });

  it('by their own play, and joints without play not at all', () => {
    const way = transfer([
      [150, 10, 30],
      [100, 10, 30],
    ]);
    const [, ...rest] = taken(withPlay(0.2, 0), [150, 20, 40], way).knots;
    expect(taken(withPlay(0.2, 0), [150, 20, 40], way).knots[0]).toEqual([150, 10 - 0.4, 30]);
    expect(rest).toEqual([
      [150, 10, 30],
      [100, 10, 30],
    ]);
    expect(taken(withPlay(0, 0), [150, 20, 40], way).same).toBe(true);
  });
});

describe('nothing is to be done', () => {
  const up = transfer([
    [150, 10, 30],
    [150, 20, 40],
    [100, 20, 40],
  ]);
  const still = transfer([
    [150, 10, 30],
    [150, 10, 30],
    [100, 10, 30],
  ]);
  const down = [
    [150, 10, 30],
    [150, 0, 20],
    [100, 0, 20],
  ] as const;

  it('where all come up', () => {
    expect(taken(both, [100, 10, 30], up)).toMatchObject({ same: true, missed: [] });
  });
  it('where none turns and the side is known; at the start of a job it is not', () => {
    expect(taken(both, [100, 10, 30], still)).toMatchObject({ same: true, missed: [] });
    expect(taken(both, [100, 10, 30], still, false).knots[1]).toEqual([150, 10 - 0.1, 30 - 0.1]);
  });
  it('where the transfer is in trouble, or is a single move', () => {
    const trouble = { words: 'in the way', kind: 'near' } as const;
    expect(taken(both, [100, 10, 30], transfer(down, { trouble }))).toMatchObject({
      same: true,
      missed: [],
    });
    expect(taken(both, [100, 10, 30], transfer([[100, 0, 20]]))).toMatchObject({
      same: true,
      missed: [],
    });
  });
});

describe('without room to come from below the joints are named', () => {
  const down = [
    [150, 10, 30],
    [150, -5, 20],
    [100, -5, 20],
  ] as const;

  it('beyond the travel', () => {
    const json = acJson();
    const joints = json.table.joints.map((j) => ({
      ...j,
      backlash: PLAY,
      ...(j.letter === 'A' && { travel: [-5.05, 120] as [number, number] }),
    }));
    const machine = machineOf({ ...json, table: { ...json.table, joints } as never });
    expect(taken(machine, [100, 10, 30], transfer(down))).toMatchObject({
      same: true,
      missed: [3, 4],
    });
    // Where there is room for twice the play there is no complaint.
    expect(taken(withPlay(0.02, 0), [100, 10, 30], transfer(down)).missed).toEqual([]);
  });

  it('too near to what stands beside the table', () => {
    // A beam under the rim: at -5 deg the rim at y = -100 mm rises, at +100 mm it sinks by 8.72 mm, and lies 6 mm
    // deeper still: by 1.1 mm over the beam, of which the last tenth of a degree would take .17 mm.
    const sunk = 100 * Math.sin(5 * DEG) + 6 * Math.cos(5 * DEG);
    const beam = (gap: number): Partial<Json> => ({
      obstacles: [
        {
          name: 'beam',
          carriedBy: 'frame',
          solid: { shape: 'box', from: [-5, -130, -sunk - gap - 10], to: [5, 130, -sunk - gap] },
        },
      ],
    });
    // From -2 deg, where the rim lies higher on that side and lower on the other, but by less.
    const little = [
      [150, -2, 30],
      [150, -5, 20],
      [100, -5, 20],
    ] as const;
    const away = transfer(little);
    expect(taken(withPlay(PLAY, 0, beam(1.4)), [100, -2, 30], away).missed).toEqual([]);
    expect(taken(withPlay(PLAY, 0, beam(1.1)), [100, -2, 30], away)).toMatchObject({
      same: true,
      missed: [3],
    });
    // A transfer that keeps half of the clearance only has to keep that here too.
    const half = transfer(little, { kept: 0.5 });
    expect(taken(withPlay(PLAY, 0, beam(1.1)), [100, -2, 30], half).missed).toEqual([]);
  });
});
