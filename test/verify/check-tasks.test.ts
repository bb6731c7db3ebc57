/**
 * The check handed out as tasks against the check in one piece: the same verdict to the last bit, with each task given
 * and answered as it would be on another thread (the structured clone of HTML), in whatever order they end. The spans
 * are held against what they are to be: all blocks once, and each beginning where the head turns.
 */
import { createHash } from 'node:crypto';
import { describe, expect, it } from 'vitest';
import { seeded } from '../../lib/base/random.js';
import { type CheckTask, type RunCheckTask, doCheckTask } from '../../lib/verify/check-tasks.js';
import { evenSpans, headSpans } from '../../lib/verify/head-spans.js';
import { type Facts, type Verdict, verify, verifyBy } from '../../lib/verify/verify.js';
import { cuboid } from '../support/shapes.js';
import { Pen, printer } from './prints.js';

const machine = printer();
const [WIDTH, HEIGHT, RADIUS, LAYERS, SIDES] = [0.45, 0.2, 5, 53, 400];

/** A wall of a round pipe in many short blocks; from some layers on the table tilts, where much hangs and touches. */
function pipe(): string {
  const pen = new Pen();
  const at = (k: number, i: number): [number, number, number] => {
    const angle = (2 * Math.PI * i) / SIDES;
    return [RADIUS * Math.cos(angle), RADIUS * Math.sin(angle), (k + 1) * HEIGHT];
  };
  for (let k = 0; k < LAYERS; k++) {
    if (k === 25 || k === 40) {
      pen.move([0, 0, 40]);
      pen.turn(k - 15, 0);
      pen.move([0, 0, 40]);
    }
    // A layer is missing, and before another one the head dips into the pipe.
    if (k === 50) continue;
    if (k === 51) pen.move([0, 0, 3]);
    pen.move(at(k, 0));
    for (let i = 1; i <= SIDES; i++) pen.lay(at(k, i), WIDTH, HEIGHT);
  }
  return pen.text();
}

const text = pipe();
const facts: Facts = { part: cuboid([3, 3, 2], [4, -1, 0]), bridge: 5 };

/** Tasks that end in any order, with what they are given and give cloned. */
function cloned(seed: number, asked: CheckTask[]): RunCheckTask {
  const random = seeded(seed);
  return async (task) => {
    asked.push(task);
    const given = structuredClone(task);
    await new Promise((resolve) => setTimeout(resolve, 20 * random()));
    return structuredClone(doCheckTask(given)) as never;
  };
}

/** All that is judged, to the last bit. */
const bytesOf = ({ check, inAir, surface }: Verdict): string[] => [
  JSON.stringify(check),
  JSON.stringify(inAir),
  ...Object.values(surface ?? {}).map((list: Float32Array) =>
    createHash('sha256').update(new Uint8Array(list.buffer)).digest('hex'),
  ),
];

describe('a program of 20,900 blocks in three directions', () => {
  it.each<[string, Facts]>([
    ['with the part', facts],
    ['without it', {}],
  ])('is judged the same in tasks and in one piece, %s', async (_, known) => {
    const whole = verify(text, machine, known);
    const asked: CheckTask[] = [];
    const parts = await verifyBy(cloned(3, asked), text, machine, known);
    expect(bytesOf(parts)).toEqual(bytesOf(whole));
    const kinds = asked.map(({ kind }) => kind);
    const count = (kind: string): number => kinds.filter((k) => k === kind).length;
    expect([count('looks'), count('head'), count('shape')]).toEqual([2, 2, known.part ? 1 : 0]);
    // There is something to judge.
    expect(whole.check.counts['verify/touch']).toBeGreaterThan(0);
    expect(whole.inAir.length).toBeGreaterThan(0);
    expect((whole.check.counts['verify/missing'] ?? 0) > 0).toBe(!!known.part);
  });

  it('falls into spans that hold each block once, and begin where the head turns', () => {
    const { trace } = verify(text, machine, {});
    const count = trace.kind.length;
    for (const spans of [evenSpans(trace), headSpans(trace)]) {
      expect(spans).toHaveLength(2);
      expect([spans[0]!.from, spans[0]!.to, spans[1]!.to]).toEqual([0, spans[1]!.from, count]);
    }
    const { from } = headSpans(trace)[1]!;
    const up = (b: number): number => trace.direction[3 * b + 2]!;
    // Tilted by 25 deg against 10 deg before.
    expect(up(from - 1)).toBeCloseTo(Math.cos((10 * Math.PI) / 180), 6);
    expect(up(from)).toBeLessThan(up(from - 1) - 0.01);
  });
});

it('a task that fails fails the check, whatever else is under way', async () => {
  const run = cloned(4, []);
  const failing: RunCheckTask = async (task) => {
    if (task.kind === 'head') throw new Error('no more');
    return run(task);
  };
  await expect(verifyBy(failing, text, machine, {})).rejects.toThrow('no more');
});

it('a program that lays nothing has no tasks', async () => {
  const asked: CheckTask[] = [];
  const idle = 'M101 P210\nG21 G90 G94\nG1 X0 Y0 Z60 A0 C0 F3000\nG1 X5\nM2\n';
  const parts = await verifyBy(cloned(5, asked), idle, machine, {});
  expect(asked).toEqual([]);
  expect(parts).toEqual(verify(idle, machine, {}));
});
