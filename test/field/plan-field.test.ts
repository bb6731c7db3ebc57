/**
 * Curved layers of whole parts on a sample machine, by the rule that counts what hangs of flat ones: least shares of
 * flat's figure that the project asks for, and bead sizes within what a nozzle of 0.4 mm lays (0.1 to 0.75 of it in
 * height: common practice, no source).
 */
import { beforeAll, describe, expect, test } from 'vitest';
import { DEG } from '../../lib/base/vector.js';
import { planField } from '../../lib/field/plan-field.js';
import { type PolygonKernel, loadPolygonKernel } from '../../lib/kernel/polygon.js';
import { bentMap } from '../../lib/layers/layer-map.js';
import { layOut } from '../../lib/layers/layers.js';
import { layerRules } from '../../lib/layers/rules.js';
import { hangingOf } from '../../lib/layers/unsupported.js';
import { massOf } from '../../lib/mesh/measure.js';
import { beadArea } from '../../lib/paths/bead.js';
import { bentPaths } from '../../lib/paths/bend-paths.js';
import { planPaths } from '../../lib/paths/plan-paths.js';
import { pathRules } from '../../lib/paths/rules.js';
import { regionOf } from '../layers/solids.js';
import { sampleMachine } from '../support/jobs.js';
import { hollowSphere, mushroom, ringLying, standing } from '../support/shapes.js';

const machine = sampleMachine('table-table-ac');
const rules = layerRules.parse({ thickness: 0.2 });
const support = { theta: 45 * DEG, bridge: 0 };
const limits = { nozzleDiameter: 0.4, onTable: true };
/** What lies lower than this no machine can tilt for, mm. */
const BY_THE_TABLE = 0.3;

let kernel: PolygonKernel;
beforeAll(async () => {
  kernel = await loadPolygonKernel();
});

describe.each([
  ['a ring that lies', ringLying(20, 5), 0.5],
  ['a hollow ball', standing(hollowSphere(15, 11)), 0.25],
  ['a mushroom', mushroom(), 0.1],
])('%s', (_, part, share) => {
  const region = regionOf(part);
  const field = planField(part, machine, {
    spacing: 2,
    overhang: 45 * DEG,
    tilt: 90 * DEG,
    lean: 5 * DEG,
    follow: 0,
    stretch: [0.67, 2],
  });
  const map = bentMap(field.map);

  test(`leaves at most ${share} of what flat layers leave, but for what lies by the table`, () => {
    const [flat, curved] = [undefined, map].map((of) => {
      const layers = layOut(region, part, rules, limits, kernel, undefined, of);
      return hangingOf([region], 0, layers, support, kernel)
        .places.filter((p) => p.point[2] > BY_THE_TABLE)
        .reduce((sum, p) => sum + p.mm2, 0);
    }) as [number, number];
    expect(flat).toBeGreaterThan(100);
    expect(curved / flat).toBeLessThan(share);
  });

  test('laid solid it has its volume, in beads that the nozzle can lay', () => {
    const layers = layOut(region, part, rules, limits, kernel, undefined, map);
    const solid = pathRules.parse({ fill: { density: 1 } });
    const { paths, figures } = planPaths(layers, 0, layers.top.length, solid, limits, kernel);
    const bent = bentPaths(paths, map);
    const heights: number[] = [];
    let volume = 0;
    for (let i = 0; i < bent.layer.length; i++) {
      for (let k = bent.start[i]! + 1; k < bent.start[i + 1]!; k++) {
        const far = Math.hypot(
          ...[0, 1, 2].map((c) => bent.points[3 * k + c]! - bent.points[3 * k - 3 + c]!),
        );
        volume += far * beadArea(bent.width[k]!, bent.height[k]!) * bent.flowFactor[i]!;
        if (far > 0.05) heights.push(bent.height[k]!);
      }
    }
    const left = figures.dropped.reduce((sum, mm2) => sum + mm2, 0) * 0.2;
    expect(Math.abs((volume + left) / massOf(part).volume - 1)).toBeLessThan(0.03);
    heights.sort((a, b) => a - b);
    expect(heights[Math.floor(0.01 * heights.length)]!).toBeGreaterThan(0.1 * 0.4);
    expect(heights[Math.floor(0.99 * heights.length)]!).toBeLessThan(0.75 * 0.4 * 1.05);
  });
});
