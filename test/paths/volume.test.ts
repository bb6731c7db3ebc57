/** What is laid against closed forms: areas and perimeters of plain figures. */
import { beforeAll, describe, expect, test } from 'vitest';
import { type PolygonKernel, loadPolygonKernel } from '../../lib/kernel/polygon.js';
import { beadArea, beadSpacing, filamentArea } from '../../lib/paths/bead.js';
import { PathKind } from '../../lib/paths/paths.js';
import {
  type Loop,
  circle,
  courseOf,
  hole,
  layersOf,
  pathsOf,
  plan,
  rectangle,
  stadium,
  volumeOf,
} from './flat.js';

let kernel: PolygonKernel;
beforeAll(async () => {
  kernel = await loadPolygonKernel();
});

test('bead section: a rectangle between two half circles', () => {
  // (w - h) h + pi h^2 / 4, worked out by hand.
  const rows = [
    [0.45, 0.2, 0.0814159],
    [0.4, 0.2, 0.0714159],
    [0.6, 0.3, 0.1606858],
    [0.2, 0.2, 0.0314159],
  ];
  for (const [w, h, area] of rows) expect(beadArea(w!, h!)).toBeCloseTo(area!, 7);
  expect(beadSpacing(0.45, 0.2)).toBeCloseTo(0.4070796, 7);
  expect(filamentArea(1.75)).toBeCloseTo(2.4052819, 7);
  expect(filamentArea(2.85)).toBeCloseTo(6.3793966, 7);
  expect(beadArea(0.45, 0.2) / filamentArea(1.75)).toBeCloseTo(0.0338488, 7);
});

interface Figure {
  readonly name: string;
  readonly loops: Loop[];
  readonly area: number;
  readonly perimeter: number;
}

const figures: Figure[] = [
  { name: 'rectangle 40 x 25', loops: [rectangle(-3, 5, 40, 25)], area: 1000, perimeter: 130 },
  {
    name: 'disc of radius 12',
    loops: [circle(12, 3, -8)],
    area: Math.PI * 144,
    perimeter: 2 * Math.PI * 12,
  },
  {
    name: 'ring 20 / 10',
    loops: [circle(20), hole(circle(10))],
    area: Math.PI * 300,
    perimeter: 2 * Math.PI * 30,
  },
  {
    name: 'stadium 30 x 16',
    loops: [stadium(30, 8)],
    area: 480 + Math.PI * 64,
    perimeter: 60 + 16 * Math.PI,
  },
];

describe.each(figures)('$name', ({ loops, area, perimeter }) => {
  const height = 0.2;
  test.each([0, 30, 45, 90])('filled solid at %d deg: area x height within 0.2%%', (angle) => {
    const { paths, figures: f } = plan(
      layersOf([loops], { height }),
      { fill: { density: 1, angle } },
      kernel,
    );
    const laid = volumeOf(paths);
    expect(laid / (area * height)).toBeCloseTo(1, 2.4);
    expect(f.laid[0]).toBeCloseTo(laid, 9);
    expect(f.section[0]! / area).toBeCloseTo(1, 3);
  });

  test('closed by a cap (nothing above): the same volume', () => {
    const { paths, figures: f } = plan(
      layersOf([loops], { height, beneath: [loops], over: [[]] }),
      { fill: { density: 0 } },
      kernel,
    );
    const caps = volumeOf(paths, (i) => paths.kind[i] === PathKind.cap);
    expect(caps).toBeGreaterThan(0);
    expect(volumeOf(paths) / (area * height)).toBeCloseTo(1, 2.4);
    expect(caps / (f.cap[0]! * height)).toBeCloseTo(1, 2);
  });

  test('contours alone: perimeter of each loop x bead section', () => {
    const { paths } = plan(layersOf([loops], { height }), { fill: { density: 0 }, cap: 0 }, kernel);
    const outer = loops.length === 1 ? perimeter : (perimeter * 2) / 3;
    // An inset by d shortens the outline of a figure without concave corners by 2 pi d (round) or
    // 8 d (rectangle), and lengthens a round hole by 2 pi d.
    const shorten = loops[0]!.length === 4 ? 8 : 2 * Math.PI;
    let length = 0;
    for (const d of [0.5, 1.5].map((n) => n * beadSpacing(0.45, height))) {
      length += outer - shorten * d;
      if (loops.length === 2) length += perimeter / 3 + 2 * Math.PI * d;
    }
    expect(volumeOf(paths) / (length * beadArea(0.45, height))).toBeCloseTo(1, 3);
  });
});

describe('the mean flank of the outer beads lies on the outline', () => {
  // A stadium's flank is a half circle of radius h / 2; its mean lies h (1 - pi / 4) / 2 inside the
  // outermost point (area of the circle in its square, worked out by hand).
  const mean = (height: number): number => (height * (1 - Math.PI / 4)) / 2;

  test.each([0.1, 0.2, 0.3])('of a disc with a hole, %d mm layers', (height) => {
    const loops = [circle(12, 0, 0, 720), hole(circle(5, 0, 0, 720))];
    const { paths } = plan(layersOf([loops], { height }), { fill: { density: 1 } }, kernel);
    const outer = pathsOf(paths, (i) => paths.kind[i] === PathKind.contour);
    const tips: number[] = outer.map((i) => {
      const [x, y] = courseOf(paths, i)[0]!;
      const [r, half] = [Math.hypot(x, y), paths.width[paths.start[i]! + 1]! / 2];
      return r > 8.5 ? r + half - 12 : 5 - (r - half);
    });
    expect(tips).toHaveLength(2);
    for (const tip of tips) expect(tip).toBeCloseTo(mean(height), 2.3);
    // The section's area by the mean flanks is what is laid, hole and all.
    expect(volumeOf(paths) / (Math.PI * (144 - 25) * height)).toBeCloseTo(1, 2.4);
  });

  test('of a ball: R = 8 in layers of 0.2 mm has V + pi R h^2 / 6', () => {
    // Sections at mid-layer of a sphere sum to exactly that (integral of the section's area).
    const [R, height] = [8, 0.2];
    const rows = Array.from({ length: (2 * R) / height }, (_, k) => {
      const z = (k + 0.5) * height - R;
      return [circle(Math.sqrt(R * R - z * z), 0, 0, 360)];
    });
    const { paths } = plan(layersOf(rows, { height }), { fill: { density: 1 } }, kernel);
    const volume = (4 / 3) * Math.PI * R ** 3 + (Math.PI * R * height ** 2) / 6;
    expect(volumeOf(paths) / volume).toBeCloseTo(1, 2.4);
  });

  test('of a pipe 1.2 mm thick: what Pappus says, whatever the height of a layer', () => {
    for (const height of [0.1, 0.2, 0.3]) {
      const loops = [circle(6, 0, 0, 720), hole(circle(4.8, 0, 0, 720))];
      const { paths } = plan(layersOf([loops], { height }), { fill: { density: 1 } }, kernel);
      expect(volumeOf(paths) / (2 * Math.PI * 5.4 * 1.2 * height)).toBeCloseTo(1, 2.4);
    }
  });
});

test('flow factors of the layer carry over to every path', () => {
  const layers = layersOf([[rectangle(0, 0, 20, 20)], [rectangle(0, 0, 20, 20)]]);
  const thicker = { ...layers, flowFactor: Float64Array.of(1.2, 1) };
  const rules = { fill: { density: 1 } };
  const plain = plan(layers, rules, kernel).paths;
  const more = plan(thicker, rules, kernel).paths;
  expect(volumeOf(more, (i) => more.layer[i] === 0)).toBeCloseTo(
    1.2 * volumeOf(plain, (i) => plain.layer[i] === 0),
    9,
  );
  expect(volumeOf(more, (i) => more.layer[i] === 1)).toBe(
    volumeOf(plain, (i) => plain.layer[i] === 1),
  );
});
