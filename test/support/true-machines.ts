/** Machines of the samples with random errors, as the independent simulator makes them. */
import { readFileSync } from 'node:fs';
import {
  type Planned,
  TouchingMachine,
  type Point,
  type TrueEffects,
  type SimulatedBlock,
  type TrueErrors,
} from './touching-machine.js';

export const SAMPLE_MACHINES = ['table-table-ac', 'table-table-bc', 'head-table'] as const;
export type SampleName = (typeof SAMPLE_MACHINES)[number];
export type { Planned };

export const fileOf = (name: string): Record<string, unknown> =>
  JSON.parse(readFileSync(`samples/machines/${name}.json`, 'utf8')) as Record<string, unknown>;

/** Even numbers in [0, 1): a linear congruential generator (Numerical Recipes' constants, from memory). */
export function evenly(seed: number): () => number {
  let state = (seed * 2654435761) >>> 0;
  return () => {
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0;
    return state / 2 ** 32;
  };
}

/** Standard normal numbers: twelve even ones less six would have no tails, so by the polar method (Marsaglia 1964). */
export function normally(seed: number): () => number {
  const even = evenly(seed);
  for (let i = 0; i < 10; i++) even();
  return () => {
    for (;;) {
      const [u, v] = [2 * even() - 1, 2 * even() - 1];
      const s = u * u + v * v;
      if (s > 0 && s < 1) return u * Math.sqrt((-2 * Math.log(s)) / s);
    }
  };
}

/** Errors to 1 mm and 1 deg, from a seed. @param share of these */
export function trueErrors(file: Record<string, unknown>, seed: number, share = 1): TrueErrors {
  const even = evenly(seed);
  for (let i = 0; i < 10; i++) even();
  const within = (most: number): number => share * most * (2 * even() - 1);
  const three = (most: number): Point => [within(most), within(most), within(most)];
  const { head, table } = file as Record<
    'head' | 'table',
    { joints: { kind: string; letter: string }[] }
  >;
  const rotary = [...head.joints, ...table.joints].filter((j) => j.kind === 'rotary');
  return {
    rotary: Object.fromEntries(
      rotary.map(({ letter }) => [letter, { turned: three(0.577), shifted: three(1) }]),
    ),
    square: three(0.2),
    face: [within(1), within(1), within(1)],
    runOut: [within(0.1), within(0.1)],
    flat: within(0.05),
    target: three(1),
  };
}

export const trueMachine = (
  name: string,
  seed: number,
  effects: TrueEffects = {},
  block?: SimulatedBlock,
): TouchingMachine => {
  const balls = [{ at: [45, 0, 20] as Point, diameter: 20 }];
  const file = fileOf(name);
  return new TouchingMachine(file, trueErrors(file, seed), effects, balls, block);
};
