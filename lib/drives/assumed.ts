/** Everything in a study of the drives that nobody has measured or stated, in sentences. */
import type { Drives } from '../machine/drives.js';
import type { Machine } from '../machine/machine.js';
import { RATIO_SHARES } from './ratio-sweep.js';
import type { JointPath } from './job-path.js';

export function assumptions(
  machine: Machine,
  drives: Drives,
  path: JointPath,
  options: { readonly density: number; readonly deviation: number; readonly sweep: boolean },
): string[] {
  const of = (joints: readonly number[]): string =>
    joints.map((j) => machine.joints[j]!.letter).join(' ');
  const without = (lacks: (j: number) => boolean): number[] =>
    machine.joints.flatMap((_, j) => (lacks(j) ? [j] : []));
  const noFriction = without((j) => drives.joints[j]!.friction === undefined);
  const noDrag = without((j) => drives.joints[j]!.drag === undefined);
  const noBody = without((j) => !drives.bodies.some((b) => b.carriedBy === j));
  const lossless = drives.drives.filter((d) => d.efficiency === undefined).map((d) => d.name);
  const noDetent = drives.drives.filter((d) => d.motor.detent === 0).map((d) => d.name);
  const list = (condition: boolean, text: string): string[] => (condition ? [text] : []);
  return [
    `time law: the one by which jobs are planned: every joint within the speed, acceleration and jerk of the machine file, corners rounded by at most ${options.deviation} mm; controllers differ`,
    'a joint made faster or slower keeps the time in which its acceleration builds up: jerk goes with acceleration',
    path.free
      ? 'feeds: those that job, nozzle and layer time ask for, whatever the joints allow'
      : 'feeds: those that the program states, so faster joints gain only where they speed up and slow down; give the job to see the rest',
    'gravity pulls along machine -Z; bodies are rigid and even throughout their solid',
    `the part weighs what its filament does at ${options.density} g/cm3, at the place where it was laid`,
    'cables, hoses and springs pull nowhere beyond the friction and the balances that the file states',
    'losses of a drive hold what they carry only where its screw or worm has less than half efficiency; other losses, cables and obstacles neither hold nor stop what falls',
    'the motor curve holds at the voltage and current in use, and the motor does not get too hot',
    ...list(noFriction.length > 0, `dry friction 0 at ${of(noFriction)}: none given`),
    ...list(noDrag.length > 0, `friction that rises with speed 0 at ${of(noDrag)}: none given`),
    ...list(
      noBody.length > 0,
      `nothing of weight is carried by ${of(noBody)} alone: no body given`,
    ),
    ...list(lossless.length > 0, `no losses in ${lossless.join(', ')}: no efficiency given`),
    ...list(noDetent.length > 0, `no detent torque without power in ${noDetent.join(', ')}`),
    ...list(
      drives.drives.some((d) => d.belt),
      'belts give evenly with load (in truth they are stiffer under more load), and both spans stay tight',
    ),
    ...list(
      options.sweep,
      `ratios from ${RATIO_SHARES[0]} to ${RATIO_SHARES.at(-1)} of the present one are tried, each motor with the losses and pulleys of the present drive; the limits of a joint are then what the motor carries with a reserve of ${drives.reserve} against the worst inertia and pull of the job`,
    ),
  ];
}
