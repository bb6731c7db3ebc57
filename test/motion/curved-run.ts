/**
 * A run of curved layers from paths to blocks: sheets that are cylinders of 15 mm and more about an axis 15 mm under
 * the table. Where the tip and the head are comes from forward kinematics, directions from the closed form.
 */
import { expect } from 'vitest';
import { DEG, type Vec3, length, pointAt, sub } from '../../lib/base/vector.js';
import { loadPolygonKernel } from '../../lib/kernel/polygon.js';
import { bentMap } from '../../lib/layers/layer-map.js';
import { layOut } from '../../lib/layers/layers.js';
import { layerRules } from '../../lib/layers/rules.js';
import { forward } from '../../lib/machine/forward.js';
import { MoveKind } from '../../lib/motion/motion.js';
import { planMotion } from '../../lib/motion/plan-motion.js';
import { motionRules } from '../../lib/motion/rules.js';
import { beadArea, filamentArea } from '../../lib/paths/bead.js';
import { bentPaths } from '../../lib/paths/bend-paths.js';
import { planPaths } from '../../lib/paths/plan-paths.js';
import { pathRules } from '../../lib/paths/rules.js';
import { regionOf } from '../layers/solids.js';
import { jobOf, sampleMachine } from '../support/jobs.js';
import { fieldOf } from '../support/fields.js';
import { cuboid } from '../support/shapes.js';

const DEPTH = 15;

/**
 * Plans a block on a machine and expects that tips lie on the paths, that the head leans by 5 deg at most, that links
 * keep out of what is laid, and that the filament is that of the beads.
 * @param size of the block, mm
 */
export async function expectCurvedRun(name: string, size: Vec3): Promise<void> {
  const kernel = await loadPolygonKernel();
  // Without weights nothing gives: the program tells the joints where they stand.
  const { drives: _, ...machine } = sampleMachine(name);
  const part = cuboid(size);
  const region = regionOf(part);
  const map = bentMap(
    fieldOf(part, 0.75, ([x, y, z]) => [
      DEPTH * Math.atan2(x, z + DEPTH),
      y,
      Math.hypot(x, z + DEPTH),
    ]),
  );
  const limits = { nozzleDiameter: 0.4, onTable: true };
  const rules = layerRules.parse({ thickness: 0.2, first: 0.2 });
  const layers = layOut(region, part, rules, limits, kernel, undefined, map);
  const planned = planPaths(layers, 0, layers.top.length, pathRules.parse({}), limits, kernel);
  const paths = bentPaths(planned.paths, map);
  const { motion, findings } = planMotion({
    machine,
    material: jobOf(part, name, {}).material,
    regions: [region],
    layersOf: [layers],
    pathsOf: [paths],
    sequence: { runs: [{ region: 0, firstLayer: 0, lastLayer: layers.top.length - 1 }] },
    rules: motionRules.parse({}),
  });
  // Small layers are done too soon and curved ones are slow for the material: warnings, and no matter here.
  expect(findings.filter((f) => f.severity === 'error')).toEqual([]);

  const points = Array.from({ length: paths.width.length }, (_, k) => pointAt(paths.points, k));
  let at = 0;
  let most = 0;
  for (let b = 0; b < motion.kind.length; b++) {
    if (motion.kind[b] !== MoveKind.deposit) continue;
    const { tip, direction } = forward(machine, motion.joints.subarray(5 * b, 5 * b + 5));
    // Blocks end on the points in their order, or between two of them where a stretch was divided.
    while (at + 1 < points.length && distance(tip, points[at]!, points[at + 1]!) > 2e-3) at++;
    expect(at + 1).toBeLessThan(points.length);
    const r = Math.hypot(tip[0], tip[2] + DEPTH);
    const cosine = (direction[0] * tip[0] + direction[2] * (tip[2] + DEPTH)) / r;
    most = Math.max(most, Math.acos(Math.min(1, cosine)) / DEG);
  }
  // The lattice's own directions are off by 2 deg at most, at the skin.
  expect(most).toBeLessThan(5 + 2);

  // Links keep out of what is laid: the straight line from side to side would go 0.6 mm deep into a sheet.
  let highest = 0;
  let lowest = Infinity;
  /** How far each link rises over what is laid. */
  const rises: number[] = [];
  for (let b = 1; b < motion.kind.length; b++) {
    const [from, to] = [5 * b - 5, 5 * b];
    const radius = (share: number): number => {
      const joints = motion.joints
        .subarray(to, to + 5)
        .map((q, j) => (1 - share) * motion.joints[from + j]! + share * q);
      const { tip } = forward(machine, joints);
      return Math.hypot(tip[0], tip[2] + DEPTH);
    };
    if (motion.kind[b] === MoveKind.deposit) highest = Math.max(highest, radius(1));
    else if (motion.kind[b] === MoveKind.link) {
      if (motion.kind[b - 1] !== MoveKind.link) rises.push(0);
      for (let k = 0; k <= 10; k++) lowest = Math.min(lowest, radius(k / 10) - highest);
      rises.push(Math.max(rises.pop()!, radius(1) - highest));
    }
  }
  // To the chord error of paths and links, and what the lattice's sheets are off the cylinders.
  expect(lowest).toBeGreaterThan(-0.03);
  // Those that leave the layer rise by the lift that the job asks for where nothing is in the way: less than the
  // clearance of 1 mm.
  const { lift } = motionRules.parse({});
  expect(Math.min(...rises.filter((mm) => mm > lift / 2))).toBeCloseTo(lift, 1);

  let volume = 0;
  for (let i = 0; i < paths.layer.length; i++) {
    for (let k = paths.start[i]! + 1; k < paths.start[i + 1]!; k++) {
      const area = beadArea(paths.width[k]!, paths.height[k]!) * paths.flowFactor[i]!;
      volume += length(sub(points[k]!, points[k - 1]!)) * area;
    }
  }
  let laid = 0;
  motion.filament.forEach((mm, b) => motion.kind[b] === MoveKind.deposit && (laid += mm));
  expect((laid * filamentArea(machine.filamentDiameter)) / volume).toBeCloseTo(1, 3);
}

/** From a point to the stretch between two others, mm. */
function distance(p: Vec3, a: Vec3, b: Vec3): number {
  const [ab, ap] = [sub(b, a), sub(p, a)];
  const long = ab[0] ** 2 + ab[1] ** 2 + ab[2] ** 2;
  const share = long > 0 ? (ap[0] * ab[0] + ap[1] * ab[1] + ap[2] * ab[2]) / long : 0;
  const t = Math.min(1, Math.max(0, share));
  return length(sub(ap, [t * ab[0], t * ab[1], t * ab[2]]));
}
