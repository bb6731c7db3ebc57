/**
 * Play of a cradle whose load holds it on one flank: arriving from the other side shows nothing there. Touches of
 * a machine simulated apart from the library (test/support/heavy-machine.ts).
 */
import { describe, expect, it } from 'vitest';
import { DEG } from '../../lib/base/vector.js';
import { stateAt } from '../../lib/calibrate/deviation-model.js';
import { pastOf } from '../../lib/calibrate/legs.js';
import { type FileText, measuredPlay } from '../../lib/calibrate/measured.js';
import { type PlayTouch, fitPlay } from '../../lib/calibrate/play-fit.js';
import { type PlayPlan, planPlay } from '../../lib/calibrate/play-plan.js';
import { contact } from '../../lib/calibrate/touch-contact.js';
import { readMachine } from '../../lib/machine/read-files.js';
import type { File } from '../recount/chain.js';
import { HeavyMachine } from '../support/heavy-machine.js';
import { BALL, FACE, normals, sampleJson } from './machines.js';

const NOISE = 0.02;
const STIFFNESS = 4;
/** Below the table's edge on the side of part -Y; the table's face lies in the machine's X and Y. */
const weight = { kg: 1, at: [0, -70, 0] as [number, number, number] };

/** The sample machine with an easy tilt, and something that hangs out on the side of Y+. */
function cradle(outside: number): FileText {
  const file = sampleJson('table-table-ac') as FileText;
  const drives = file.drives!;
  const solid = { shape: 'box', from: [-10, 90, -4], to: [10, 110, 16] } as const;
  const body = { name: 'fan', carriedBy: 'A', mass: outside, solid };
  return {
    ...file,
    drives: {
      ...drives,
      joints: { ...drives.joints, A: { friction: 0.02 } },
      bodies: [...drives.bodies, ...(outside > 0 ? [body] : [])],
    },
  } as FileText;
}

/** What the machine reads whose tilt has so much play, deg, and gives. */
function readings(file: FileText, plan: PlayPlan, loose: number, noise: () => number): PlayTouch[] {
  const { drives: _, ...rest } = file;
  const { machine } = plan.model;
  const rigid = stateAt(planPlayModel(rest as FileText), new Float64Array(64));
  const size = machine.joints.map((j) => (j.kind === 'rotary' ? DEG : 1));
  const truth = { stiffness: { A: STIFFNESS, C: 6 }, play: { A: loose, X: 0, Y: 0, Z: 0, C: 0 } };
  return plan.touches.map((touch) => {
    // The machine was set up without the weight.
    const at = new HeavyMachine(file as unknown as File, truth);
    if (touch.loaded) at.lay(weight.kg, weight.at);
    const told = Array.from(touch.joints, (v, j) => v / size[j]!);
    const past = told.map((v, j) =>
      touch.arrive?.joint === j
        ? pastOf(machine.joints[j]!, touch.joints[j]!, touch.arrive.from) / size[j]!
        : v,
    );
    at.go(told.map((v, j) => (size[j] === 1 ? v : v - 1)));
    at.go(past);
    const off = at.go(told).map((v, j) => (v - told[j]!) * size[j]!);
    const met = contact(
      rigid,
      touch.aim,
      touch.joints.map((v, j) => v + off[j]!),
      touch.down,
    )!;
    const by = noise();
    const joints = met.map((v, j) => v - off[j]! + by * touch.down[j]!);
    return { number: touch.number, aim: touch.aim, joints, play: touch.play };
  });
}

const planPlayModel = (file: FileText): PlayPlan['model'] =>
  planPlay(readMachine(file), [FACE, BALL], { repeats: 1, noise: NOISE }).model;

describe('play of a tilt of 0.02 N m of friction', () => {
  it.each([
    ['0.08 deg, balanced when level, where it is touched', 0, 0.08, false],
    ['0.3 deg, pressed down when level, the weight presses it up', 0.35, 0.3, true],
  ])('%s', (_, outside, loose, byWeight) => {
    const file = cradle(outside);
    const machine = readMachine(file);
    const A = machine.joints.findIndex((j) => j.letter === 'A');
    const plan = planPlay(machine, [FACE, BALL], { repeats: 3, noise: NOISE, weight });
    const pairs = plan.touches.filter((t) => t.play.joint === A && t.play.from === 'above');
    expect(pairs.length > 0).toBe(!byWeight);
    const normal = normals(7);
    const fit = fitPlay(
      plan.model,
      readings(file, plan, loose, () => NOISE * normal()),
      weight,
      NOISE,
    );
    const play = fit.estimates.find((e) => e.kind === 'play' && e.joint === A)!;
    expect(Math.abs(play.value / DEG - loose)).toBeLessThan((3 * play.uncertainty) / DEG);
    expect(play.value).toBeGreaterThan(4 * play.uncertainty);
    const text = measuredPlay(file, fit);
    const written = text.table.joints.find((j) => j.letter === 'A')!;
    expect(written.backlash).toBeCloseTo(play.value / DEG, 4);
  });

  it('without a weight, where no place lets it go, it is not asked and not written', () => {
    const file = cradle(0.35);
    const machine = readMachine(file);
    const A = machine.joints.findIndex((j) => j.letter === 'A');
    const plan = planPlay(machine, [FACE, BALL], { repeats: 3, noise: NOISE });
    expect(plan.undetermined).toContainEqual({ kind: 'play', joint: A });
    expect(plan.expected.some((e) => e.kind === 'play' && e.joint === A)).toBe(false);
  });
});
