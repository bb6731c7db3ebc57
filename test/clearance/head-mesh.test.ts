/**
 * A head given as closed meshes against the same head given by radii and boxes, against closed forms of
 * its own, and with a fan duct planted in it that touches: caught by the motion and by the check.
 */
import { describe, expect, it } from 'vitest';
import type { Mesh } from '../../lib/base/mesh.js';
import { seeded } from '../../lib/base/random.js';
import { DEG } from '../../lib/base/vector.js';
import { gapAt } from '../../lib/clearance/convex/conservative-advancement.js';
import { bodiesOf } from '../../lib/clearance/machine-bodies.js';
import { DistanceSearch } from '../../lib/clearance/nearest-on-path.js';
import { still } from '../../lib/clearance/body-path.js';
import { headPoints, headRadius, leastTipHeight } from '../../lib/machine/head.js';
import { outlineOf } from '../../lib/machine/outline.js';
import { headDistance } from '../../lib/machine/solid-distance.js';
import { extruded, leaned, revolved } from '../../lib/mesh/make-solids.js';
import { verify } from '../../lib/verify/verify.js';
import { type Json, acJson, machineOf, stack } from '../machine/machines.js';
import { boxJob, boxMesh, plannedBoxes } from '../motion/jobs.js';
import { Pen, printer } from '../verify/prints.js';

const inline = ({ vertices, triangles }: Mesh): NonNullable<Json['table']['mesh']> => {
  const threes = (list: ArrayLike<number>): [number, number, number][] =>
    Array.from({ length: list.length / 3 }, (_, i) => [
      list[3 * i]!,
      list[3 * i + 1]!,
      list[3 * i + 2]!,
    ]);
  return { shape: 'mesh', vertices: threes(vertices), triangles: threes(triangles) };
};

const N = 48;
/** The outline as a mesh, its corners on the circles. */
const turnedMesh = (points: typeof stack): Mesh =>
  revolved(
    [[[0, 0], ...points.map((p) => [p.radius, p.above] as const), [0, points.at(-1)!.above]]],
    N,
  );
const cone = [
  { above: 0, radius: 0.4 },
  { above: 50, radius: 24 },
];
const withHead = (head: Partial<Json['head']>, rest: Partial<Json> = {}): Json => {
  const json = acJson();
  return { ...json, ...rest, head: { ...json.head, stack: [], ...head } };
};
type Corner = [number, number, number];
const post = (from: Corner, to: Corner): Pick<Json, 'obstacles'> => ({
  obstacles: [{ name: 'post', carriedBy: 'frame', solid: { shape: 'box', from, to } }],
});

/** Gaps of the head to the first obstacle, without and with the tip. */
function gapsOf(json: Json): (joints: Float64Array) => [number, number] {
  const machine = machineOf(json);
  const { head, wholeHead, obstacles } = bodiesOf(machine);
  const search = new DistanceSearch();
  return (joints) =>
    [head, wholeHead].map((body) => {
      const pair = { body, things: obstacles[0]!, need: 0 };
      return gapAt(machine, search, pair, joints, still(), 500, 0)!.gap;
    }) as [number, number];
}
const gaps = (json: Json, joints: Float64Array): [number, number] => gapsOf(json)(joints);

describe('the same head as radii and as a mesh', () => {
  for (const [name, points] of [
    ['a cone', cone],
    ['a stepped outline, not convex', stack],
  ] as const) {
    it(`${name}: gaps are alike to the chord's height, 60 poses, seed 31`, () => {
      const random = seeded(31);
      const asMesh = withHead(
        { meshes: [inline(turnedMesh([...points]))] },
        post([20, -15, 5], [45, 15, 60]),
      );
      const asRadii = withHead({ stack: [...points] }, post([20, -15, 5], [45, 15, 60]));
      const [mesh, round] = [gapsOf(asMesh), gapsOf(asRadii)];
      // Corners lie on the circle, so sides lie within r (1 - cos(pi / n)) of it.
      const sag = points.at(-1)!.radius * (1 - Math.cos(Math.PI / N));
      let apart = 0;
      for (let n = 0; n < 60; n++) {
        const q = Float64Array.from([
          130 * random() - 60,
          120 * random() - 60,
          80 * random(),
          0,
          0,
        ]);
        const [meshes, radii] = [mesh(q), round(q)];
        radii.forEach((gap, i) => {
          if (gap < sag) return;
          apart++;
          expect(meshes[i]!).toBeGreaterThan(gap - 1e-9);
          expect(meshes[i]!).toBeLessThan(gap + sag + 1e-9);
        });
      }
      expect(apart).toBeGreaterThan(40);
    });
  }

  it('a box beside the nozzle: gaps and depths are those of the box', () => {
    const random = seeded(32);
    const [from, to]: [Corner, Corner] = [
      [-14, 18, 34],
      [14, 28, 58],
    ];
    const around = post([20, -15, 5], [45, 15, 60]);
    const asBox = withHead({ stack, boxes: [{ shape: 'box', from, to }] }, around);
    const asMesh = withHead({ stack, meshes: [inline(boxMesh(from, to, [0, 0, 1]))] }, around);
    const [box, mesh] = [gapsOf(asBox), gapsOf(asMesh)];
    for (let n = 0; n < 60; n++) {
      const q = Float64Array.from([100 * random() - 40, 100 * random() - 50, 60 * random(), 0, 0]);
      const [a, b] = [box(q), mesh(q)];
      a.forEach((gap, i) => expect(b[i]!).toBeCloseTo(gap, 6));
    }
  });

  it('asks for the same height over the table at every tilt, to the last digit', () => {
    const asMesh = machineOf(withHead({ meshes: [inline(turnedMesh(cone))] }));
    const asRadii = machineOf(withHead({ stack: cone }));
    for (let t = 0; t <= 120; t += 7.5) {
      expect(leastTipHeight(asMesh, t * DEG)).toBeCloseTo(leastTipHeight(asRadii, t * DEG), 9);
    }
    expect(headPoints(asMesh)).toHaveLength(2);
  });
});

describe('a head that is not convex', () => {
  /** A fork open to +X: two prongs 10 mm wide, 20 mm apart, 40 mm long, 30 mm high, over a nozzle. */
  const fork = leaned(
    extruded(
      [
        [
          [-10, -20],
          [40, -20],
          [40, -10],
          [0, -10],
          [0, 10],
          [40, 10],
          [40, 20],
          [-10, 20],
        ],
      ],
      30,
    ),
    0,
    0,
    10,
  );
  const json = withHead({
    stack: cone.map((p) => ({ ...p, radius: Math.min(p.radius, 0.4) })),
    meshes: [inline(fork)],
  });
  const rod = (y: number): Json => ({ ...json, ...post([20, y - 2, 5], [24, y + 2, 60]) });
  const zero = new Float64Array(5);

  it('a post between the prongs, which a hull would touch, is as far off as its sides are', () => {
    expect(gaps(rod(0), zero)[0]).toBeCloseTo(8, 9);
    expect(gaps(rod(5), zero)[0]).toBeCloseTo(3, 9);
    expect(gaps(rod(9), zero)[0]).toBeLessThan(0);
    const machine = machineOf(rod(0));
    expect(headDistance(machine, [22, 0, 20])).toBeCloseTo(10, 12);
    expect(headDistance(machine, [22, 15, 20])).toBe(0);
  });

  it('what stands wholly inside it is inside, what stands in a cavity of it is not', () => {
    const tiny = (x: number, y: number): Json => ({
      ...json,
      ...post([x - 1, y - 1, 19], [x + 1, y + 1, 21]),
    });
    expect(gaps(tiny(30, 15), zero)[1]).toBeLessThan(0);
    expect(gaps(tiny(30, 0), zero)[1]).toBeCloseTo(9, 9);
    // A box of 60 x 60 x 40 with a hole of 40 x 40 x 20 in it; a post of 2 mm in the middle of that.
    const shell = boxMesh([-30, -30, 5], [30, 30, 45], [0, 0, 1]);
    const hole = boxMesh([-20, -20, 15], [20, 20, 35], [0, 0, 1]);
    const vertices = Float64Array.from([...shell.vertices, ...hole.vertices]);
    const turned = hole.triangles.map((_, i, t) => t[i - (i % 3) + [0, 2, 1][i % 3]!]! + 8);
    const triangles = Uint32Array.from([...shell.triangles, ...turned]);
    const hollow = withHead(
      { stack: [{ above: 0, radius: 0.4 }], meshes: [inline({ vertices, triangles } as Mesh)] },
      post([9, -1, 24], [11, 1, 26]),
    );
    expect(gaps(hollow, zero)[1]).toBeCloseTo(9, 9);
  });
});

describe('the outline of a mesh', () => {
  it('is the circle around what is round in facets, step by step', () => {
    const outline = outlineOf(turnedMesh(stack));
    expect(outline).toHaveLength(stack.length);
    outline.forEach((p, i) => {
      expect(p.above).toBeCloseTo(stack[i]!.above, 9);
      expect(p.radius).toBeCloseTo(stack[i]!.radius, 9);
    });
  });

  it('is never narrower than the mesh, ball, leaning rod and ring, 20,000 points, seed 33', () => {
    const random = seeded(33);
    const ball = revolved(
      [
        Array.from(
          { length: 81 },
          (_, i) =>
            [20 * Math.sin((i / 80) * Math.PI), 20 - 20 * Math.cos((i / 80) * Math.PI)] as const,
        ).map(([r, z], i) => [i % 80 === 0 ? 0 : r, z] as const),
      ],
      60,
    );
    const bar = leaned(
      extruded(
        [
          [
            [8, 3],
            [14, 3],
            [14, 9],
            [8, 9],
          ],
        ],
        40,
      ),
      50 * DEG,
      0.7,
      12,
    );
    const ring = revolved(
      [
        Array.from(
          { length: 24 },
          (_, i) =>
            [30 + 6 * Math.cos((i / 12) * Math.PI), 10 + 6 * Math.sin((i / 12) * Math.PI)] as const,
        ),
      ],
      40,
    );
    for (const mesh of [ball, bar, ring]) {
      const machine = { ...machineOf(acJson()), stack: outlineOf(mesh) };
      expect(machine.stack.length).toBeLessThan(49);
      for (let n = 0; n < 20_000 / 3; n++) {
        const t = 3 * Math.floor((random() * mesh.triangles.length) / 3);
        let [a, b] = [random(), random()];
        if (a + b > 1) [a, b] = [1 - a, 1 - b];
        const at = (c: number): number => {
          const v = (k: number): number => mesh.vertices[3 * mesh.triangles[t + k]! + c]!;
          return v(0) + a * (v(1) - v(0)) + b * (v(2) - v(0));
        };
        expect(headRadius(machine, at(2))).toBeGreaterThan(Math.hypot(at(0), at(1)) - 1e-9);
      }
    }
  });
});

describe('planted: a fan duct on one side of the head, 12 mm over the tip', () => {
  const duct = (bottom: number): Mesh =>
    leaned(
      // An L from the side: the duct comes down beside the nozzle and ends in a lip towards it.
      extruded(
        [
          [
            [-60, -8],
            [-40, -8],
            [-40, 8],
            [-60, 8],
          ],
        ],
        20,
      ),
      0,
      0,
      bottom,
    );

  it('the motion tells that it meets the block that stands there', () => {
    const low = [
      boxJob([-30, -10, 0], [-20, 10, 20], [0, 0, 1]),
      boxJob([20, -10, 0], [30, 10, 5], [0, 0, 1]),
    ];
    const told = (bottom: number): string[] =>
      plannedBoxes(machineOf(withHead({ stack, meshes: [inline(duct(bottom))] })), low, {
        touch: 'report',
      })
        .findings.filter((f) => f.code === 'motion/part')
        .map((f) => f.message);
    expect(told(22)).toEqual([]);
    expect(told(12)[0]).toMatch(
      /region 2, layer 1, the head comes within 1 mm of region 1: they touch/,
    );
  });

  it('the check tells it from the program alone, on the side where the duct is and on no other', () => {
    const touches = (side: number, bottom: number): number => {
      const pen = new Pen();
      pen.move([0, 0, 60]);
      // A post of 20 mm, and a low block 50 mm beside it.
      pen.box([-3, -3, 0], [6, 6, 20], 0.6, 0.4);
      pen.move([0, 0, 60]);
      pen.move([side * 50, 0, 60]);
      pen.box([side * 50 - 3, -3, 0], [6, 6, 1.2], 0.6, 0.4);
      const machine = printer((json) => {
        json.head.meshes = [inline(duct(bottom))];
      });
      return verify(pen.text(), machine, {}).check.print!.touches;
    };
    expect(touches(1, 12)).toBeGreaterThan(0);
    expect(touches(1, 22)).toBe(0);
    expect(touches(-1, 12)).toBe(0);
  });
});

describe('a table given as a mesh', () => {
  // A plate of 200 x 200 x 6 with a clip of 10 mm on its edge.
  const plate = boxMesh([-100, -100, -6], [100, 100, 0], [0, 0, 1]);
  const clip = boxMesh([80, -5, -3], [100, 5, 10], [0, 0, 1]);
  const both: Mesh = {
    vertices: Float64Array.from([...plate.vertices, ...clip.vertices]),
    triangles: Uint32Array.from([...plate.triangles, ...clip.triangles.map((t) => t + 8)]),
    twins: new Int32Array(0),
  };
  const json = (mesh: Mesh): Json => {
    const { thickness, ...table } = acJson().table;
    expect(thickness).toBe(6);
    return { ...acJson(), table: { ...table, mesh: inline(mesh) } };
  };
  it('has the gaps of the plate, and of the clip on it', () => {
    const machine = machineOf(json(both));
    expect(machine.tableThickness).toBe(6);
    const { wholeHead, table } = bodiesOf(machine);
    const gap = (x: number, z: number): number =>
      gapAt(
        machine,
        new DistanceSearch(),
        { body: wholeHead, things: table, need: 0 },
        Float64Array.from([x, 0, z, 0, 0]),
        still(),
        500,
        0,
      )!.gap;
    expect(gap(0, 12)).toBeCloseTo(12, 9);
    expect(gap(90, 12)).toBeCloseTo(2, 9);
  });
  it('is refused where it does not reach under the face, or does not come up to it', () => {
    expect(() => machineOf(json(boxMesh([-75, -100, -6], [75, 100, 0], [0, 0, 1])))).toThrow(
      /face reaches 25 mm past/,
    );
    expect(() => machineOf(json(boxMesh([-100, -100, -9], [100, 100, -3], [0, 0, 1])))).toThrow(
      /ends 3 mm under the face/,
    );
    expect(() =>
      machineOf({ ...json(plate), table: { ...acJson().table, mesh: inline(plate) } }),
    ).toThrow(/both a thickness and a mesh/);
  });
});

describe('a bad mesh is one clear refusal', () => {
  const head =
    (mesh: Mesh): (() => unknown) =>
    () =>
      machineOf(withHead({ meshes: [inline(mesh)] }));
  const sized = (k: number): Mesh => {
    const mesh = turnedMesh(stack);
    return { ...mesh, vertices: mesh.vertices.map((x) => k * x) };
  };
  it('open, self-crossing, of a wrong unit, below the tip, above the tip, no head at all', () => {
    const mesh = turnedMesh(stack);
    expect(head({ ...mesh, triangles: mesh.triangles.slice(3) })).toThrow(
      /mesh 1 of the head has 3 open edges/,
    );
    // A corner of a box drawn through the opposite side.
    const crossed = boxMesh([-10, -10, 0], [10, 10, 40], [0, 0, 1]);
    crossed.vertices.set([30, 0, 20], 0);
    expect(head(crossed)).toThrow(/mesh 1 of the head crosses itself/);
    expect(head(sized(1 / 25.4))).toThrow(
      /0.0315 mm wide at its tip, less than the bore of 0.4 mm; is its unit right/,
    );
    expect(head(sized(0.001))).toThrow(
      /measures 0.06 mm, the limits are 1 and 2000 mm; is its unit right/,
    );
    expect(head(boxMesh([-5, -5, -2], [5, 5, 40], [0, 0, 1]))).toThrow(
      /reaches 2 mm below the tip/,
    );
    expect(head(boxMesh([-5, -5, 3], [5, 5, 40], [0, 0, 1]))).toThrow(/begins 3 mm above the tip/);
    expect(() => machineOf(withHead({}))).toThrow(/no outline and no mesh/);
  });
  it('a name in place of the mesh, where there are no files', () => {
    const named =
      (name: string): (() => unknown) =>
      () =>
        machineOf(withHead({ meshes: [{ shape: 'file', name, unit: 'millimetre' }] }));
    expect(named('head.stl')).toThrow(
      /mesh 1 of the head is in the file "head.stl", which is not here/,
    );
    for (const name of ['../head.stl', '/tmp/head.stl', 'a/../../b.stl', 'C:head.stl']) {
      expect(named(name)).toThrow(/a file in the folder of the machine file/);
    }
  });
});
