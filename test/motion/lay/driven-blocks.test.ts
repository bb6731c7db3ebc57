/**
 * What drives are told so that the joints of a machine that gives and has play stand where a motion wants them:
 * run by a machine simulated apart from the library (test/support/heavy-machine.ts), the tip is where it is to
 * be, found by the kinematics of the recount.
 */
import { describe, expect, it } from 'vitest';
import { seeded } from '../../../lib/base/random.js';
import { DEG } from '../../../lib/base/vector.js';
import { readMachine } from '../../../lib/machine/read-files.js';
import { BlockList, type MotionBlocks } from '../../../lib/motion/lay/blocks.js';
import { toldBlocks } from '../../../lib/motion/lay/compensate-backlash.js';
import { MoveKind } from '../../../lib/motion/motion.js';
import { motionRules } from '../../../lib/motion/rules.js';
import type { File } from '../../recount/chain.js';
import { type Moves, Tip } from '../../recount/program.js';
import { runHeavy } from '../../support/heavy-machine.js';
import { sampleJson } from '../../support/jobs.js';

const DENSITY = 1.27;
const rules = motionRules.parse({});

/** A sample machine with joints that give and are loose, set by the way of arrival or by their load. */
function loose(name: string, friction: number): File {
  const file = sampleJson(`machines/${name}.json`) as File;
  const joints = (of: File['table']['joints']): File['table']['joints'] =>
    of.map((j) => ({
      ...j,
      ...(j.kind === 'rotary' ? { stiffness: 4, backlash: 0.15 } : { backlash: 0 }),
    }));
  const rub = Object.entries(file.drives!.joints!).map(([l, j]) => [l, { ...j, friction }]);
  return {
    ...file,
    head: { ...file.head, joints: joints(file.head.joints) },
    table: { ...file.table, joints: joints(file.table.joints) },
    drives: { ...file.drives!, joints: Object.fromEntries(rub) as never },
    dialect: { ...file.dialect, play: 'nobody' },
  };
}

/**
 * Regions at random rotary values, reached from below; on them beads with links between; in the last one the
 * first rotary joint of the table rises while material is laid.
 */
function wanted(size: readonly number[], rotary: readonly number[], seed: number): MotionBlocks {
  const random = seeded(seed);
  const list = new BlockList(new Float64Array(size.length));
  const tag = { region: 0, layer: 0, pathKind: 0, speed: 50 };
  let at = new Float64Array(size.length);
  const go = (kind: MoveKind, change: (v: number, j: number) => number, filament = 0): void => {
    at = at.map(change);
    list.push(at, 1, 0.1, filament, { ...tag, kind });
  };
  for (let region = 0; region < 6; region++) {
    const turn = rotary.map((j) => [j, (100 * random() - 50) * DEG] as const);
    const to = new Map(turn);
    go(MoveKind.transfer, (v, j) => (to.has(j) ? to.get(j)! - 2 * DEG : v));
    go(MoveKind.transfer, (v, j) => to.get(j) ?? v);
    for (let bead = 0; bead < 60; bead++) {
      const place = (v: number, j: number): number =>
        size[j] === 1 ? 60 * random() - (j === 2 ? 0 : 30) : v;
      go(MoveKind.link, place);
      const rises = region === 5 && bead > 30;
      go(
        MoveKind.deposit,
        (v, j) => (rises && j === rotary[0] ? v + 0.5 * DEG : place(v, j)),
        12 * random(),
      );
    }
  }
  return list.take();
}

/** Blocks as the moves of a program, mm and deg. */
const movesOf = (blocks: MotionBlocks, size: readonly number[]): Moves => ({
  jointCount: size.length,
  joints: blocks.joints.map((v, i) => v / size[i % size.length]!),
  from: blocks.from.map((v, j) => v / size[j]!),
  seconds: new Float64Array(blocks.kind.length).fill(1),
  filament: blocks.filament,
  line: Uint32Array.from(blocks.kind, (_, b) => b),
  region: new Uint16Array(blocks.kind.length),
  layer: new Uint16Array(blocks.kind.length),
});

describe.each(['table-table-ac', 'table-table-bc', 'head-table'])('%s', (name) => {
  it.each([
    [0.01, 1],
    [0.01, 2],
    [1.3, 3],
    [0.1, 4],
  ])('with %s N m of friction every bead is where it is to be, seed %i', (friction, seed) => {
    const file = loose(name, friction);
    const machine = readMachine(JSON.parse(JSON.stringify(file)));
    const size = machine.joints.map((j) => (j.kind === 'rotary' ? DEG : 1));
    const rotary = size.flatMap((s, j) => (s === 1 ? [] : [j]));
    const blocks = { ...wanted(size, rotary, seed), from: machine.ready };
    const told = toldBlocks(machine, blocks, { density: DENSITY }, rules)!;
    const tip = new Tip(file);
    const offAt = (moves: Moves): number => {
      const runs = runHeavy(file, moves, DENSITY);
      let most = 0;
      for (let b = 0; b < blocks.kind.length; b++) {
        if (blocks.kind[b] !== MoveKind.deposit) continue;
        const k = 5 * (moves.line.length === blocks.kind.length ? b : told.at[b]!);
        const is = tip.over(runs.joints.subarray(k, k + 5)).tip;
        const should = tip.over(
          blocks.joints.slice(5 * b, 5 * b + 5).map((v, j) => v / size[j]!),
        ).tip;
        most = Math.max(most, Math.hypot(...is.map((x, c) => x - should[c]!)));
      }
      return most;
    };
    // Two joints, each followed to 0.3 of the chord error of 0.01 mm, and 0.1 % of what they carry.
    expect(offAt(movesOf(told.blocks, size))).toBeLessThan(0.008);
    expect(offAt(movesOf(blocks, size))).toBeGreaterThan(0.03);
  });
});

it('a load too small to matter changes no value', () => {
  const file = loose('table-table-ac', 0.1);
  const stiff = file.table.joints.map((j) => ({ ...j, stiffness: 4000, backlash: 0 }));
  const machine = readMachine(
    JSON.parse(
      JSON.stringify({
        ...file,
        table: { ...file.table, joints: stiff },
        drives: { ...file.drives!, drives: file.drives!.drives.map(({ belt: _, ...d }) => d) },
      }),
    ),
  );
  const size = machine.joints.map((j) => (j.kind === 'rotary' ? DEG : 1));
  const blocks = { ...wanted(size, [3, 4], 5), from: machine.ready };
  const told = toldBlocks(machine, blocks, { density: DENSITY }, rules)!;
  // In the last of six regions the table turns while it lays, so there every change is followed.
  const flat = (blocks.joints.length / 6) * 5;
  expect(told.blocks.joints.slice(0, flat)).toEqual(blocks.joints.slice(0, flat));
});
