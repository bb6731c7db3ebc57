/** Where a true machine of the simulator brings the tip when joints are solved on a fitted one. */
import { DEG, type Vec3 } from '../../lib/base/vector.js';
import { inverse } from '../../lib/machine/inverse.js';
import type { Machine } from '../../lib/machine/machine.js';
import type { TouchingMachine } from '../support/touching-machine.js';
import { evenly } from '../support/true-machines.js';

/**
 * Distances, mm, at random places of a part and tilts to 1 rad. How the part lies in the plane of the face is
 * nobody's error: the two shifts and the turn that fit best are taken out.
 */
export function tipErrors(
  machine: Machine,
  truth: TouchingMachine,
  seed: number,
  count: number,
): number[] {
  const even = evenly(seed);
  const places: Vec3[] = [];
  let offs: [number, number, number][] = [];
  for (let i = 0; i < count; i++) {
    const [a, t, w] = [2 * Math.PI * even(), even(), 2 * Math.PI * even()];
    const r = 40 * Math.sqrt(even());
    const p: Vec3 = [r * Math.cos(a), r * Math.sin(a), 60 * even()];
    const d: Vec3 = [Math.sin(t) * Math.cos(w), Math.sin(t) * Math.sin(w), Math.cos(t)];
    const solution = inverse(machine, p, d, machine.ready)[0];
    if (!solution) continue;
    const shown = [...solution.joints].map((v, k) =>
      machine.joints[k]!.kind === 'rotary' ? v / DEG : v,
    );
    const { at } = truth.tip(shown);
    places.push(p);
    offs.push([at[0] - p[0], at[1] - p[1], at[2] - p[2]]);
  }
  const mean = (of: readonly (readonly number[])[], k: number): number =>
    of.reduce((sum, o) => sum + o[k]!, 0) / of.length;
  // Shifts and turn decouple about the mean place.
  const [mx, my, px, py] = [mean(offs, 0), mean(offs, 1), mean(places, 0), mean(places, 1)];
  let [turning, inertia] = [0, 0];
  offs.forEach((o, i) => {
    const [x, y] = [places[i]![0] - px, places[i]![1] - py];
    turning += x * (o[1] - my) - y * (o[0] - mx);
    inertia += x * x + y * y;
  });
  const turn = turning / inertia;
  offs = offs.map((o, i) => [
    o[0] - mx + turn * (places[i]![1] - py),
    o[1] - my - turn * (places[i]![0] - px),
    o[2],
  ]);
  return offs.map((o) => Math.hypot(...o));
}
