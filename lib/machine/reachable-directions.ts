/**
 * Which build directions the two rotary joints reach: a test for one direction, and the arcs and caps
 * of all of them by tilt and azimuth. Linear travel is not considered, for it depends on where on the
 * table the part stands.
 */
import type { Vec3 } from '../base/vector.js';
import { solveRotaries } from './inverse.js';
import type { Machine } from './machine.js';

/** True if some solution for the unit build direction d keeps both rotary joints in their travel. */
export function canReach(machine: Machine, d: Vec3): boolean {
  const near = new Float64Array(machine.joints.length);
  return solveRotaries(machine, d, near).some((s) => s.violations.length === 0);
}

/** Tilt from the table normal and azimuth from part +X towards part +Y, rad. */
export const directionAtTilt = (tilt: number, azimuth: number): Vec3 => [
  Math.sin(tilt) * Math.cos(azimuth),
  Math.sin(tilt) * Math.sin(azimuth),
  Math.cos(tilt),
];

export interface TiltReach {
  /** Every direction up to this tilt is reachable, rad: the cap. */
  readonly everyTilt: number;
  /** No direction beyond this tilt is, rad. */
  readonly greatestTilt: number;
}

/** Azimuths and tilts are tried in steps of one degree, and edges then halved down to 1e-9 rad. */
const AZIMUTH_STEPS = 360;

/** The cap of directions that are reachable whatever the azimuth, and the greatest reachable tilt. */
export function reachOf(machine: Machine): TiltReach {
  let everyTilt = Math.PI;
  let greatestTilt = 0;
  for (let i = 0; i < AZIMUTH_STEPS; i++) {
    const azimuth = (2 * Math.PI * i) / AZIMUTH_STEPS;
    const ok = (tilt: number): boolean => canReach(machine, directionAtTilt(tilt, azimuth));
    const tilts = spans(ok, 0, Math.PI, AZIMUTH_STEPS / 2);
    const first = tilts[0];
    everyTilt = Math.min(everyTilt, first && first[0] === 0 ? first[1] : 0);
    greatestTilt = Math.max(greatestTilt, tilts.at(-1)?.[1] ?? 0);
  }
  return { everyTilt, greatestTilt };
}

/** Maximal spans of [from, to] in which a test holds, tried at even steps, ends found by halving. */
function spans(
  test: (x: number) => boolean,
  from: number,
  to: number,
  steps: number,
): [number, number][] {
  const out: [number, number][] = [];
  let open: number | undefined = test(from) ? from : undefined;
  for (let i = 1; i <= steps; i++) {
    const before = from + ((to - from) * (i - 1)) / steps;
    const x = from + ((to - from) * i) / steps;
    const ok = test(x);
    if (ok && open === undefined) open = edge(test, x, before);
    if (!ok && open !== undefined) {
      out.push([open, edge(test, before, x)]);
      open = undefined;
    }
  }
  if (open !== undefined) out.push([open, to]);
  return out;
}

/** The last place for which the test holds between one where it does and one where it does not. */
function edge(test: (x: number) => boolean, inside: number, outside: number): number {
  while (Math.abs(outside - inside) > 1e-9) {
    const middle = (inside + outside) / 2;
    if (test(middle)) inside = middle;
    else outside = middle;
  }
  return inside;
}
