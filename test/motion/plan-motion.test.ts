/**
 * The motion of small jobs, checked from the record alone: forward kinematics of every block, the
 * volume of the beads, the limits of the joints, and clearance at closely spaced samples.
 */
import { describe, expect, it } from 'vitest';
import { pathFrame } from '../../lib/layers/layer-map.js';
import { applyPoint } from '../../lib/base/frame.js';
import { type Vec3, dot, length, sub, unit } from '../../lib/base/vector.js';
import { forward } from '../../lib/machine/forward.js';
import type { Machine } from '../../lib/machine/machine.js';
import { headDistance } from '../../lib/machine/solid-distance.js';
import { MoveKind, type Motion } from '../../lib/motion/motion.js';
import { planMotion } from '../../lib/motion/plan-motion.js';
import { motionRules } from '../../lib/motion/rules.js';
import { orderRuns } from '../../lib/order/order.js';
import { acJson, bcJson, headHeadJson, headTableJson, machineOf } from '../machine/machines.js';
import { type BoxJob, arm, material, post } from './jobs.js';

const rules = motionRules.parse({});

const tilted = (deg: number, azimuth: number): Vec3 => {
  const [t, a] = [(deg * Math.PI) / 180, (azimuth * Math.PI) / 180];
  return unit([Math.sin(t) * Math.cos(a), Math.sin(t) * Math.sin(a), Math.cos(t)]);
};

const jobs = (): BoxJob[] => [
  post(),
  arm(tilted(60, 0)),
  arm(tilted(60, 120)),
  arm(tilted(85, 230)),
];

function plan(machine: Machine, parts: BoxJob[], change: Partial<typeof rules> = {}) {
  const regions = parts.map((p) => p.region);
  const pathsOf = parts.map((p) => p.paths);
  const sequence = orderRuns(machine, regions, pathsOf);
  return {
    sequence,
    ...planMotion({
      machine,
      material: material(),
      regions,
      layersOf: parts.map((p) => p.layers),
      pathsOf,
      sequence,
      rules: { ...rules, ...change },
    }),
  };
}

const MACHINES = [
  ['table-table A-C', acJson],
  ['table-table B-C', bcJson],
  ['head-table', headTableJson],
  ['head-head', headHeadJson],
] as const;

const jointsAt = (m: Motion, b: number): Float64Array =>
  b < 0 ? m.from : m.joints.subarray(b * m.jointCount, (b + 1) * m.jointCount);

describe.each(MACHINES)('%s', (_, json) => {
  const machine = machineOf(json());
  const parts = jobs();
  const { motion, findings, sequence } = plan(machine, parts);

  it('finds nothing to complain about', () => {
    expect(findings).toEqual([]);
    expect(sequence.runs.map((r) => r.region)[0]).toBe(0);
  });

  it('brings the tip to every path point, with the build direction of its region', () => {
    const tips = parts.map(() => [] as Vec3[]);
    for (let b = 0; b < motion.kind.length; b++) {
      if (motion.kind[b] !== MoveKind.deposit) continue;
      const region = motion.region[b]!;
      const pose = forward(machine, jointsAt(motion, b));
      tips[region]!.push(pose.tip);
      expect(dot(pose.direction, parts[region]!.region.direction)).toBeGreaterThan(1 - 1e-12);
    }
    parts.forEach((part, r) => {
      const { points, start } = part.paths;
      let n = 0;
      for (let i = 0; i + 1 < start.length; i++) {
        for (let k = start[i]! + 1; k < start[i + 1]!; k++) {
          const p: Vec3 = [points[3 * k]!, points[3 * k + 1]!, points[3 * k + 2]!];
          const pPart = applyPoint(pathFrame(part.layers.map).partFromLayer, p);
          expect(length(sub(tips[r]![n++]!, pPart))).toBeLessThan(1e-9);
        }
      }
      expect(n).toBe(tips[r]!.length);
    });
  });

  it('meters the volume of the beads, and what is drawn back is primed again', () => {
    // Bead .45 x .2: .0814159 mm2, 1.75 mm filament: .0338488 mm for each mm of path (stadium).
    let laid = 0;
    let path = 0;
    let drawn = 0;
    for (let b = 0; b < motion.kind.length; b++) {
      if (motion.kind[b] === MoveKind.deposit) {
        laid += motion.filament[b]!;
        path += motion.length[b]!;
      } else if (motion.kind[b] === MoveKind.filament) drawn += motion.filament[b]!;
      else expect(motion.filament[b]).toBe(0);
    }
    const expected = parts.reduce((sum, { paths }) => {
      for (let i = 0; i + 1 < paths.start.length; i++) {
        for (let k = paths.start[i]! + 1; k < paths.start[i + 1]!; k++) {
          const at = (n: number): Vec3 => [0, 1, 2].map((c) => paths.points[3 * n + c]!) as never;
          sum += length(sub(at(k), at(k - 1)));
        }
      }
      return sum;
    }, 0);
    expect(path).toBeCloseTo(expected, 6);
    expect(laid / path).toBeCloseTo(0.0338488, 6);
    // As much is primed as was drawn back, after the last bead too: the sum is what was laid.
    expect(drawn).toBeCloseTo(0, 9);
    expect(motion.kind.at(-1)).toBe(MoveKind.filament);
  });

  it('asks no joint for more than its speed or travel', () => {
    const broken: number[][] = [];
    for (let b = 0; b < motion.kind.length; b++) {
      const [a, c] = [jointsAt(motion, b - 1), jointsAt(motion, b)];
      machine.joints.forEach((joint, j) => {
        const move = Math.abs(c[j]! - a[j]!);
        if (move > joint.speed * motion.seconds[b]! * (1 + 1e-9) + 1e-12) broken.push([b, j]);
        if (!(c[j]! >= joint.least && c[j]! <= joint.most)) broken.push([b, j]);
      });
    }
    expect(broken).toEqual([]);
  });

  it('stands still with its rotary joints inside a region', () => {
    const turned: number[] = [];
    for (let b = 0; b < motion.kind.length; b++) {
      if (motion.kind[b] === MoveKind.transfer) continue;
      machine.joints.forEach((joint, j) => {
        const still = jointsAt(motion, b)[j] === jointsAt(motion, b - 1)[j];
        if (joint.kind === 'rotary' && !still) turned.push(b);
      });
    }
    expect(turned).toEqual([]);
  });

  it('keeps the head clear of table and part through every transfer and link', () => {
    expect(
      leastGap(
        machine,
        motion,
        parts,
        sequence.runs.map((r) => r.region),
      ),
    ).toBeGreaterThan(machine.clearance - 0.02);
  });
});

/**
 * Least distance of head and printed boxes or table in all moves between regions, sampled every 0.2
 * degrees and 0.5 mm; the regions are solid boxes, so points over the skin of their beads stand for them. The
 * last stretch down to where the tip is to work, and the first away from it, may be near.
 */
function leastGap(machine: Machine, motion: Motion, parts: BoxJob[], order: number[]): number {
  const clouds = parts.map((p) => surface(p));
  const table = tableCloud();
  let least = Infinity;
  let last = -1;
  for (let b = 0; b < motion.kind.length; b++) {
    if (motion.kind[b] !== MoveKind.transfer) {
      const lays = motion.kind[b] === MoveKind.deposit;
      if (lays) last = Math.max(last, order.indexOf(motion.region[b]!));
      continue;
    }
    const standing = [table, ...order.slice(0, last + 1).map((r) => clouds[r]!)];
    const [a, c] = [jointsAt(motion, b - 1), jointsAt(motion, b)];
    const first = motion.kind[b - 1] !== MoveKind.transfer;
    const final = motion.kind[b + 1] !== MoveKind.transfer;
    const span = machine.joints.reduce(
      (n, j, i) => n + Math.abs(c[i]! - a[i]!) * (j.kind === 'rotary' ? 286 : 2),
      0,
    );
    const steps = Math.max(2, Math.ceil(span));
    for (let s = 0; s <= steps; s++) {
      const joints = a.map((v, i) => v + ((c[i]! - v) * s) / steps);
      const { tip, direction } = forward(machine, joints);
      const near = first ? s / steps : final ? 1 - s / steps : 1;
      const travelled = near * length(sub(forward(machine, c).tip, forward(machine, a).tip));
      if ((first || final) && travelled < 2) continue;
      for (const cloud of standing)
        least = Math.min(least, cloudGap(machine, tip, direction, cloud));
    }
  }
  return least;
}

/** The head is round, so only height along and distance from its axis count. */
function cloudGap(machine: Machine, tip: Vec3, d: Vec3, cloud: Vec3[]): number {
  let least = Infinity;
  for (const p of cloud) {
    const v = sub(p, tip);
    const s = dot(v, d);
    if (s < -least) continue;
    const r = Math.sqrt(Math.max(0, dot(v, v) - s * s));
    least = Math.min(least, headDistance(machine, [r, 0, s]));
  }
  return least;
}

function surface({ region, layers }: BoxJob): Vec3[] {
  const { layerFromPart, partFromLayer } = pathFrame(layers.map);
  const corners = Array.from({ length: 8 }, (_, i) =>
    applyPoint(layerFromPart, [0, 1, 2].map((c) => region.mesh.vertices[3 * i + c]!) as never),
  );
  // Paths run 1 mm inside the faces with beads .45 wide.
  const inset = [0.775, 0.775, 0];
  const low = [0, 1, 2].map((c) => Math.min(...corners.map((p) => p[c]!)) + inset[c]!);
  const high = [0, 1, 2].map((c) => Math.max(...corners.map((p) => p[c]!)) - inset[c]!);
  const out: Vec3[] = [];
  const n = 8;
  for (let i = 0; i <= n; i++) {
    for (let j = 0; j <= n; j++) {
      for (let k = 0; k <= n; k++) {
        if (![i, j, k].some((x) => x === 0 || x === n)) continue;
        const p = [i, j, k].map((x, c) => low[c]! + ((high[c]! - low[c]!) * x) / n);
        out.push(applyPoint(partFromLayer, p as never));
      }
    }
  }
  return out;
}

function tableCloud(): Vec3[] {
  const out: Vec3[] = [[0, 0, 0]];
  for (let r = 10; r <= 100; r += 10) {
    for (let a = 0; a < 360; a += 10) {
      const t = (a * Math.PI) / 180;
      out.push([r * Math.cos(t), r * Math.sin(t), 0], [r * Math.cos(t), r * Math.sin(t), -6]);
    }
  }
  return out;
}
