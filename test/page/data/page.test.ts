/** The page's data: what is packed comes back, and what is drawn is what the program's text says. */
import { expect, test } from 'vitest';
import { seeded } from '../../../lib/base/random.js';
import { type Column, column, pack, unpack } from '../../../lib/page/data/packing.js';
import { type PageHead } from '../../../lib/page/data/page-head.js';
import { makePage } from '../../../lib/page/data/page.js';
import { diverging } from '../../../lib/draw/diverging.js';
import { type Vec3, dot, unit } from '../../../lib/base/vector.js';
import {
  OCTAHEDRON_STEPS,
  coarseChain,
  directionCode,
  fineChain,
} from '../../../lib/page/client/chain.js';
import { modelOf } from '../../../lib/page/client/model.js';
import { preview } from '../../../lib/report/beads-picture.js';
import { regionsOfRuns } from '../../../lib/page/data/region-of-run.js';
import { samplesOf } from '../../../lib/page/data/shape-samples.js';
import { TraceKind } from '../../../lib/verify/verify.js';
import { decode } from 'fast-png';
import { jobOf, runJob } from '../../support/jobs.js';
import { postWithArm } from '../../support/shapes.js';

const input = jobOf(postWithArm(20, 70, 30, 20), 'table-table-ac', {
  regions: { directions: 40, effort: 12, lean: 0 },
  layers: { thickness: 0.3, first: 0.3 },
});
const result = runJob(input);

async function unpacked(): Promise<ReturnType<typeof unpack>> {
  const { report, plan, trace, time, surface, map } = await result;
  const page = makePage('<title><!--title--></title><!--data-->|', {
    report,
    machine: input.machine,
    regions: plan.regions,
    trace: trace!,
    time: time!,
    surface: surface!,
    map: map!,
  });
  expect(page[0]).toBe('<title>part.stl</title>');
  expect(page[2]).toBe('|');
  return unpack(page[1]!);
}

test('the player ends when the plan does: one figure for the time of a job', async () => {
  const { columns } = await unpacked();
  const { report } = await result;
  const { ints, unit } = columns['seconds']!;
  const played = ints.reduce((sum, n) => sum + n, 0) * unit;
  // Stored in whole microseconds a block.
  expect(Math.abs(played - report.motion.seconds)).toBeLessThan(ints.length * 0.5e-6 + 1e-6);
  // More than at the stated feeds: nothing speeds up in no time.
  expect(played).toBeGreaterThan(report.check!.seconds);
});

test('whole numbers of any size come back as they were, seed 7', () => {
  const random = seeded(7);
  const wide = Int32Array.from({ length: 5000 }, () => Math.round((random() - 0.5) * 2 ** 31));
  const near = Int32Array.from({ length: 5000 }, () => Math.round((random() - 0.5) * 90));
  const columns = {
    wide: { ints: wide, unit: 1, stride: 3 },
    near: { ints: near, unit: 0.5, stride: 1 },
    none: { ints: new Int32Array(0), unit: 1, stride: 1 },
    zero: { ints: new Int32Array(9), unit: 1, stride: 2 },
  };
  const back = unpack(pack({ head: { text: 'Winkel 45°' }, columns }));
  expect(back.head).toEqual({ text: 'Winkel 45°' });
  expect(back.columns).toEqual(columns);
});

test('a column keeps half its unit, and a coarser unit where numbers are large', () => {
  const values = [1.23456, -7.5, 1e-7];
  const { ints, unit } = column(values, 1e-3);
  expect(unit).toBe(1e-3);
  values.forEach((v, i) => expect(Math.abs(ints[i]! * unit - v)).toBeLessThanOrEqual(5e-4));
  const large = column([3e9, 1], 1e-3);
  expect(large.ints[0]! * large.unit).toBeCloseTo(3e9, 0);
  expect(() => column([NaN], 1)).toThrow('no number');
});

test('tips and volumes of the page are those of the checked program', async () => {
  const { trace, report } = await result;
  const model = modelOf(await unpacked());
  expect(model.count).toBe(trace!.time.length);
  let far = 0;
  for (let i = 0; i < trace!.tip.length; i++) {
    far = Math.max(far, Math.abs(model.tips[i + 3]! - trace!.tip[i]!));
  }
  // Positions are kept in the decimals of the text; drawn numbers are float32.
  expect(far).toBeLessThan(1e-3);
  const laid = model.volume.reduce((a, b) => a + b, 0);
  expect(laid / report.check!.volumeMm3).toBeCloseTo(1, 4);
});

test('layers and build directions of the page, found in the text, are those of the plan', async () => {
  const model = modelOf(await unpacked());
  const heads = model.head as PageHead;
  expect(heads.regionOfRun.toSorted()).toEqual([0, 1]);
  heads.report.regions.forEach(({ layers }, region) => {
    const own = model.layers.filter((l) => l.region === region);
    // The last ones may be too small for a bead.
    expect(own.length).toBeLessThanOrEqual(layers);
    expect(own.length).toBeGreaterThan(layers - 4);
    for (const layer of own) expect(layer.thickness).toBeLessThan(0.3 + 1e-3);
    const rise = own.at(-1)!.height - own[0]!.height;
    expect(rise / (own.length - 1)).toBeCloseTo(own[1]!.thickness, 3);
  });
  heads.regionOfRun.forEach((region, run) => {
    const b = model.run.findIndex((r, i) => r === run && model.kind[i] === TraceKind.deposit);
    const direction = model.directions.subarray(3 * b + 3, 3 * b + 6);
    heads.report.regions[region]!.direction.forEach((c, i) => {
      expect(direction[i]).toBeCloseTo(c, 5);
    });
  });
});

test('directions drawn from 16 bits are true to 0.9 deg, and exact along the axes', () => {
  // Decoded as the shader does it; half a step each way is 0.0056 on the octahedron, at most
  // sqrt 3 times as much on the sphere where its faces are nearest to the middle, and askew.
  const back = (code: number): Vec3 => {
    const [u, v] = [Math.floor(code / 256), code % 256].map((x) => x / OCTAHEDRON_STEPS - 1) as [
      number,
      number,
    ];
    const z = 1 - Math.abs(u) - Math.abs(v);
    const sign = (x: number): number => (x < 0 ? -1 : 1);
    return unit(z < 0 ? [(1 - Math.abs(v)) * sign(u), (1 - Math.abs(u)) * sign(v), z] : [u, v, z]);
  };
  for (const axis of [0, 1, 2]) {
    for (const way of [-1, 1]) {
      const d = [0, 1, 2].map((c) => (c === axis ? way : 0)) as unknown as Vec3;
      expect(dot(back(directionCode(d, 0)), d)).toBeCloseTo(1, 12);
    }
  }
  const random = seeded(5);
  for (let i = 0; i < 2000; i++) {
    const z = 2 * random() - 1;
    const a = 2 * Math.PI * random();
    const r = Math.sqrt(1 - z * z);
    const d: Vec3 = [r * Math.cos(a), r * Math.sin(a), z];
    expect(dot(back(directionCode(d, 0)), d)).toBeGreaterThan(Math.cos((0.9 * Math.PI) / 180));
  }
});

test('the page carries every place where the shape was measured', async () => {
  const { surface } = await result;
  const { samples } = modelOf(await unpacked());
  expect(samples!.error.length).toBe(surface!.error.length);
  // Post 20 x 20 x 70 and arm 20 x 20 x 30: a sample at least every half millimetre.
  expect(samples!.spacing).toBeLessThanOrEqual(0.5 + 1e-6);
  surface!.error.forEach((e, i) => {
    if (Math.abs(samples!.error[i]! - e) > 6e-4) throw new Error(`sample ${i} differs`);
  });
});

test('every block belongs to the layer that is being laid', async () => {
  const model = modelOf(await unpacked());
  for (let b = 0; b < model.count; b++) {
    const layer = model.layers[model.layerOf[b]!]!;
    if (model.kind[b] === TraceKind.deposit) {
      expect(b >= layer.from && b < layer.to && layer.run === model.run[b]).toBe(true);
    }
  }
  expect(model.blockOfLine(model.line[500]!)).toBeLessThanOrEqual(500);
  expect(model.blockOfLine(1)).toBe(-1);
});

test('samples of the shape error come back at their places, every so many where there are too many', () => {
  const count = 600_000;
  const at = (i: number): number => ((i % 1000) - 500) / 10;
  const surface = {
    points: Float32Array.from({ length: 3 * count }, (_, i) => at(i)),
    normals: Float32Array.from({ length: 3 * count }, (_, i) => (i % 3 === 2 ? 1 : 0)),
    area: new Float32Array(count).fill(0.25),
    error: Float32Array.from({ length: count }, (_, i) => (i % 200) / 1000 - 0.1),
  };
  const { columns, spacing } = samplesOf(surface);
  const { points, error } = columns as { points: Column; error: Column };
  expect(error.ints.length).toBe(200_000);
  for (const i of [0, 1, 777, 199_999]) {
    expect(error.ints[i]! * error.unit).toBeCloseTo(surface.error[3 * i]!, 5);
    expect(points.ints[3 * i]! * points.unit).toBeCloseTo(surface.points[9 * i]!, 4);
  }
  // 600,000 samples of 0.25 mm2 each, a third of them kept.
  expect(spacing).toBeCloseTo(Math.sqrt(0.75), 6);
});

test('the coarse chain has fewer links, the same ends, and leaves the way by at most a quarter bead', async () => {
  const model = modelOf(await unpacked());
  const [fine, coarse] = [fineChain(model), coarseChain(model)];
  expect(coarse.block.length).toBeLessThan(fine.block.length);
  expect(coarse.block.at(-1)).toBe(model.count - 1);
  let from = 0;
  let worst = 0;
  coarse.block.forEach((to, i) => {
    const a = coarse.points.subarray(3 * i, 3 * i + 3);
    const b = coarse.points.subarray(3 * i + 3, 3 * i + 6);
    expect([...b]).toEqual([...model.tips.subarray(3 * to + 3, 3 * to + 6)]);
    for (let k = from; k < to; k++) {
      worst = Math.max(worst, away(model.tips.subarray(3 * k + 3, 3 * k + 6), a, b));
    }
    from = to + 1;
  });
  // 0.1 mm by the formula for flat arcs, 8 h^2 = 3 L (L - c); one corner of height h between straight
  // blocks has L (L - c) >= 2 h^2, so h <= 0.1 sqrt(4 / 3).
  expect(worst).toBeLessThan(0.1 * Math.sqrt(4 / 3) + 1e-3);
});

/** Distance of a point from the segment a to b. */
function away(p: Float32Array, a: Float32Array, b: Float32Array): number {
  const d = [0, 1, 2].map((c) => b[c]! - a[c]!);
  const e = [0, 1, 2].map((c) => p[c]! - a[c]!);
  const dot = (u: number[], v: number[]): number => u.reduce((sum, x, i) => sum + x * v[i]!, 0);
  const t = dot(d, d) > 0 ? Math.max(0, Math.min(1, dot(d, e) / dot(d, d))) : 0;
  return Math.hypot(...e.map((x, i) => x - t * d[i]!));
}

test('the preview shows both regions in their colours on a clear ground', async () => {
  const { trace, plan } = await result;
  const image = decode(preview(trace!, regionsOfRuns(trace!, plan.regions)));
  expect([image.width, image.height]).toEqual([640, 640]);
  let [blue, orange, clear] = [0, 0, 0];
  for (let i = 0; i < image.data.length; i += 4) {
    const [r, , b, a] = image.data.subarray(i, i + 4);
    if (a === 0) clear++;
    else if (b! > 1.5 * r!) blue++;
    else if (r! > 1.5 * b!) orange++;
  }
  // Sky blue and orange of Okabe and Ito; the post shows about twice as much as the arm.
  expect(blue).toBeGreaterThan(15_000);
  expect(orange).toBeGreaterThan(8_000);
  expect(clear).toBeGreaterThan(150_000);
});

test('the scale of errors has the ends of ColorBrewer RdBu (2003, from memory) and grey for none', () => {
  expect(diverging(-1)).toEqual([33, 102, 172]);
  expect(diverging(0)).toEqual([247, 247, 247]);
  expect(diverging(5)).toEqual([178, 24, 43]);
  expect(diverging(NaN)).toEqual([150, 150, 150]);
});
