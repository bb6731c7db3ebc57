/**
 * The head against the table while it lays material: how a run's rotary joints stand and where its
 * tip goes come in; the first place where the head would come too near to the table face goes out. A
 * tip that is high enough over an infinite face is clear whatever its place (head.ts); lower ones are
 * asked circle by circle of the head, for a head may well hang over the rim of the table.
 */
import { compose, inverse } from '../base/frame.js';
import { type Vec3, angle } from '../base/vector.js';
import { machineFromHead, machineFromPart } from '../machine/chain.js';
import { forward } from '../machine/forward.js';
import { clearanceAt, headRadius, leastTipHeight } from '../machine/head.js';
import type { Machine } from '../machine/machine.js';
import { surfacePoints } from '../machine/solids.js';
import type { Blocks } from './blocks.js';

/** Points on a circle of the head, and spacing of those on its boxes, mm. */
const ROUND = 72;
const SPACING = 3;
/** Height between circles of a flank, mm. */
const SLICE = 2;
/** Rounding that is no touch, mm. */
const SLACK = 1e-6;

export interface LowHead {
  readonly block: number;
  /** By how much the clearance is missed, mm. */
  readonly missing: number;
}

/** The worst block of from .. to at which the head is too near to the table; undefined if none is. */
export function headOverTable(
  machine: Machine,
  blocks: Blocks,
  from: number,
  to: number,
): LowHead | undefined {
  const n = blocks.jointCount;
  const at = (b: number): Float64Array => blocks.joints.subarray(b * n, b * n + n);
  let worst: LowHead | undefined;
  let cloud: readonly Vec3[] | undefined;
  let turned: Float64Array | undefined;
  let points: Float64Array = new Float64Array(0);
  let need = 0;
  for (let b = from; b < to; b++) {
    const joints = at(b);
    if (!turned || rotated(machine, turned, joints)) {
      turned = joints;
      need = leastTipHeight(machine, angle(forward(machine, joints).direction, [0, 0, 1]));
      points = new Float64Array(0);
    }
    const { tip } = forward(machine, joints);
    if (tip[2] >= need - SLACK) continue;
    cloud ??= headCloud(machine);
    if (points.length === 0) points = seenFromPart(machine, joints, cloud);
    const missing = missingOver(machine, points, tip);
    if (missing > SLACK && missing > (worst?.missing ?? 0)) worst = { block: b, missing };
  }
  return worst;
}

const rotated = (machine: Machine, a: Float64Array, b: Float64Array): boolean =>
  machine.joints.some((j, i) => j.kind === 'rotary' && a[i] !== b[i]);

/** Offsets from the tip, part frame, of the head's points: packed x y z and clearance there. */
function seenFromPart(
  machine: Machine,
  joints: Float64Array,
  cloud: readonly Vec3[],
): Float64Array {
  const f = compose(inverse(machineFromPart(machine, joints)), machineFromHead(machine, joints));
  const out = new Float64Array(4 * cloud.length);
  cloud.forEach((p, i) => {
    for (let c = 0; c < 3; c++) {
      out[4 * i + c] = f[c]! * p[0] + f[4 + c]! * p[1] + f[8 + c]! * p[2];
    }
    out[4 * i + 3] = clearanceAt(machine, p[2]);
  });
  return out;
}

/** By how much some point of the head over the table misses its clearance, mm. */
function missingOver(machine: Machine, points: Float64Array, tip: Vec3): number {
  const { face, tableThickness } = machine;
  let missing = 0;
  for (let i = 0; i < points.length; i += 4) {
    const short = points[i + 3]! - (tip[2] + points[i + 2]!);
    // Beyond the underside by the clearance the table is no longer in the way.
    if (short <= missing || short > 2 * points[i + 3]! + tableThickness) continue;
    const x = tip[0] + points[i]!;
    const y = tip[1] + points[i + 1]!;
    const over =
      face.shape === 'disc'
        ? Math.sqrt(x * x + y * y) <= face.radius
        : Math.abs(x) <= face.size[0] / 2 && Math.abs(y) <= face.size[1] / 2;
    if (over) missing = short;
  }
  return missing;
}

/** Points on the surface of the head, head frame. */
function headCloud(machine: Machine): Vec3[] {
  const { stack, clearance } = machine;
  const heights = new Set([clearance, ...stack.map((s) => s.above)]);
  for (let s = 0; s < stack.at(-1)!.above; s += SLICE) heights.add(s);
  const out: Vec3[] = [];
  for (const s of heights) {
    const radius = stackRadius(machine, s);
    for (let k = 0; k < ROUND; k++) {
      const a = (2 * Math.PI * k) / ROUND;
      out.push([radius * Math.cos(a), radius * Math.sin(a), s]);
    }
  }
  for (const box of machine.headBoxes)
    out.push(...surfacePoints({ shape: 'box', ...box }, SPACING));
  return out;
}

/** Radius of the round outline alone. */
const stackRadius = (machine: Machine, above: number): number =>
  headRadius({ ...machine, headBoxes: [] }, above);
