/**
 * A coarse program, then a second one that is aimed by what the first has told: on machines of the independent
 * simulator with errors to 1 mm and 1 deg and a ball that stands up to 1.7 mm off, no touch finds nothing, and the
 * head keeps off ball and face all the way.
 */
import { describe, expect, it } from 'vitest';
import { fitTouches } from '../../lib/calibrate/deviation-fit.js';
import { type FileText, measuredFile } from '../../lib/calibrate/measured.js';
import { touchProgram } from '../../lib/calibrate/program.js';
import { contact, downward } from '../../lib/calibrate/touch-contact.js';
import { type TouchPlan, planTouches } from '../../lib/calibrate/touch-plan.js';
import { DEG } from '../../lib/base/vector.js';
import { readMachine } from '../../lib/machine/read-files.js';
import { readOptions, readProgram } from '../../lib/program/read-program.js';
import type { Point, TouchingMachine } from '../support/touching-machine.js';
import { SAMPLE_MACHINES, fileOf, normally, trueMachine } from '../support/true-machines.js';
import { BALL, FACE, rigidJson, rigidMachine } from './machines.js';
import { NOISE } from './doubted.js';

const MACHINES = 100;
/** Second plans that are made anew; the others take the places of the plan as drawn and aim at them anew. */
const PLANNED_ANEW = 3;

describe.each(SAMPLE_MACHINES)('%s', (name) => {
  const machine = rigidMachine(name);
  const coarse = planTouches(machine, [FACE, BALL], { touches: 40, noise: NOISE, coarse: true });
  const drawn = planTouches(machine, [FACE, BALL], { touches: 80, noise: NOISE });

  it(`machines 1 to ${MACHINES}: neither program stops at a miss`, () => {
    let direct = 0;
    for (let seed = 1; seed <= MACHINES; seed++) {
      const truth = trueMachine(name, seed);
      const normal = normally(500 + seed);
      const first = searched(truth, coarse, coarse.touches, () => NOISE * normal());
      expect(missed(first), `coarse, seed ${seed}`).toBe(0);
      const fit = fitTouches(
        coarse.model,
        first.filter((t) => t !== undefined),
        { noise: NOISE },
      );
      const note = { touches: 40, noise: NOISE, tip: 0.1 };
      const measured = readMachine(measuredFile(rigidJson(name) as FileText, fit.state, note));
      const second =
        seed <= PLANNED_ANEW
          ? planTouches(measured, fit.state.targets, { touches: 80, noise: NOISE }).touches
          : drawn.touches.map((t) => {
              const down = downward(measured, t.joints)!;
              const state = { ...fit.state, machine: measured };
              return { ...t, down, joints: contact(state, t.aim, t.joints, down)! };
            });
      const read = searched(truth, drawn, second, () => 0);
      expect(missed(read), `second, seed ${seed}`).toBe(0);
      direct += Math.min(1, missed(searched(truth, drawn, drawn.touches, () => 0)));
    }
    // Without the coarse program many would stop: the test can fail.
    expect(direct).toBeGreaterThan(0.1 * MACHINES);
  });

  it.each([1, 2, 3])('machine %i: on its way the head keeps off ball and face', (seed) => {
    const program = touchProgram(coarse, {
      probe: 'switch',
      speed: 1,
      nozzleTemperature: 0,
      tableTemperature: 0,
    });
    expect(leastGap(trueMachine(name, seed), program, name)).toBeGreaterThan(0.5);
  });
});

const searched = <T extends Parameters<TouchingMachine['run']>[0][number]>(
  truth: TouchingMachine,
  { search: { approach, below } }: TouchPlan,
  touches: readonly T[],
  noise: () => number,
): ReturnType<typeof truth.run<T>> => truth.run(touches, noise, [approach, approach + below]);

const missed = (read: readonly unknown[]): number => read.filter((t) => t === undefined).length;

/** Least distance of the head's outline from ball and face, mm, over all moves between touches. */
function leastGap(truth: TouchingMachine, program: string, name: string): number {
  const lines = program.split('\n').filter((l) => l !== 'M0');
  const probing = new Set(lines.flatMap((l, i) => (l.includes('G38.2') ? [i + 1] : [])));
  const text = lines.map((l) => l.replace('G94 G38.2', 'G94 G1')).join('\n');
  const machine = rigidMachine(name);
  const moves = readProgram(text, readOptions(machine));
  const n = moves.jointCount;
  const { stack } = fileOf(name)['head'] as { stack: { above: number; radius: number }[] };
  const outline = filled(stack);
  const ball = truth.balls[0]!.at.map((v, k) => v + truth.errors.target[k]!) as Point;
  const radius = truth.balls[0]!.diameter / 2;
  const around = Array.from({ length: 24 }, (_, k): Point => {
    const a = (2 * Math.PI * k) / 24;
    const r = k % 2 ? 70 : 35;
    return [r * Math.cos(a), r * Math.sin(a), 0];
  });
  let least = Infinity;
  for (let b = 1; b < moves.line.length; b++) {
    if (probing.has(moves.line[b]!) || probing.has(moves.line[b - 1]!)) continue;
    for (let s = 0; s <= 20; s++) {
      const values = Array.from({ length: n }, (_, j) => {
        const [from, to] = [moves.joints[(b - 1) * n + j]!, moves.joints[b * n + j]!];
        return (from + (s / 20) * (to - from)) / (machine.joints[j]!.kind === 'rotary' ? DEG : 1);
      });
      const { at, up } = truth.tip(values);
      least = Math.min(
        least,
        outline(at, up, ball) - radius,
        ...around.map((p) => outline(at, up, p)),
      );
    }
  }
  return least;
}

/** Distance of a point from a body turned round the head's axis, by points of its profile every 0.5 mm. */
function filled(
  stack: readonly { above: number; radius: number }[],
): (at: Point, up: Point, p: Point) => number {
  const profile = stack.slice(1).flatMap((to, i) => {
    const from = stack[i]!;
    const steps = Math.ceil(Math.hypot(to.above - from.above, to.radius - from.radius) / 0.5);
    return Array.from({ length: steps + 1 }, (_, k): [number, number] => [
      from.above + (k / steps) * (to.above - from.above),
      from.radius + (k / steps) * (to.radius - from.radius),
    ]);
  });
  return (at, up, p) => {
    const off = p.map((v, k) => v - at[k]!);
    const height = off.reduce((sum, v, k) => sum + v * up[k]!, 0);
    const aside = Math.hypot(...off.map((v, k) => v - height * up[k]!));
    let least = Infinity;
    let inside = false;
    for (const [h, r] of profile) {
      least = Math.min(least, Math.hypot(h - height, r - aside));
      if (Math.abs(h - height) < 0.5 && aside < r) inside = true;
    }
    return inside ? -least : least;
  };
}
