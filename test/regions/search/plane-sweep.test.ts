/**
 * Candidate planes of a sinking plane against a count that knows no merge tree: at every height the vertices above
 * fall into pieces (flood fill), and each piece relieves what hangs wholly in it and bears what hangs along its own
 * direction.
 */
import { describe, expect, it } from 'vitest';
import { next } from '../../../lib/base/mesh.js';
import { seeded } from '../../../lib/base/random.js';
import { type Vec3, angle, dot, pointAt, unit } from '../../../lib/base/vector.js';
import { planeDirections } from '../../../lib/regions/search/plane-directions.js';
import { AREA_WORTH, Arcs, type CandidatePlane, type DirectionMarks, marksOf, sweep } from '../../../lib/regions/search/plane-sweep.js'; // prettier-ignore
import { MergeTree } from '../../../lib/regions/search/merge-tree.js';
import { type RemainingBody, bodyFrom } from '../../../lib/regions/search/remaining-body.js';
import { uncut } from '../../../lib/mesh/cut/cut.js';
import { arch, icosphere, postWithArm, tShape } from '../../support/shapes.js';

const RULES = { theta: Math.PI / 4, foot: 0.1 };

interface Counted {
  readonly members: ReadonlySet<number>;
  readonly gain: number;
  readonly burden: number;
  readonly area: number;
  readonly barred: boolean;
}

/** Each piece of what lies above a height along the normal, and all of them together. */
function piecesOver(
  body: RemainingBody,
  worth: Float64Array,
  marks: DirectionMarks,
  normal: Vec3,
  height: number,
): Counted[] {
  // prettier-ignore
  const { triangles, vertices } = body.mesh;
  const near = new Map<number, number[]>();
  for (let v = 0; v < vertices.length / 3; v++) {
    if (dot(pointAt(vertices, v), normal) > height) near.set(v, []);
  }
  for (let h = 0; h < triangles.length; h++) {
    const [a, b] = [triangles[h]!, triangles[next(h)]!];
    if (near.has(a) && near.has(b)) near.get(a)!.push(b);
  }
  const seen = new Set<number>();
  const sets: Set<number>[] = [];
  for (const v of near.keys()) {
    if (seen.has(v)) continue;
    const members = new Set([v]);
    for (const u of members) for (const w of near.get(u)!) members.add(w);
    for (const u of members) seen.add(u);
    sets.push(members);
  }
  if (sets.length > 1) sets.push(new Set(near.keys()));
  const topOf = (of: readonly number[]): number =>
    of.reduce((a, b) => (dot(pointAt(vertices, b), normal) > dot(pointAt(vertices, a), normal) ? b : a)); // prettier-ignore
  return sets.map((members) => {
    let [relieved, burden, area] = [0, 0, 0];
    worth.forEach((w, t) => {
      if (![...triangles.subarray(3 * t, 3 * t + 3)].every((v) => members.has(v))) return;
      relieved += w;
      area += body.areas[t]!;
    });
    // What hangs comes in with its highest corner.
    for (const t of marks.leaning) {
      if (members.has(topOf([...triangles.subarray(3 * t, 3 * t + 3)]))) burden += body.areas[t]!;
    }
    for (const { ends, cost } of marks.edges) if (members.has(topOf(ends))) burden += cost;
    const barred = [...marks.barred].some((v) => members.has(v));
    return { members, gain: relieved - burden, burden, area, barred };
  });
}

describe.each([
  ['a post with an arm', () => postWithArm()],
  ['a T', () => tShape()],
  ['an arch', () => arch(20, 10, 15, 20, 10)],
  ['a ball', () => icosphere(10, 1)],
] as const)('over %s', (_, make) => {
  const mesh = make();
  const body = bodyFrom(uncut(mesh), RULES);
  const worth = Float64Array.from(body.areas, (a, t) => (body.upright.facets[t] ? a : 0));
  const tree = new MergeTree(body, worth);
  const arcs = new Arcs(mesh.vertices.length / 3);

  it.each([1, 2, 3, 4])(
    'planes have the gain and area of their piece, and none is better (seed %i)',
    (seed) => {
      const random = seeded(seed);
      for (let n = 0; n < 8; n++) {
        const some = (): Vec3 => unit([random() - 0.5, random() - 0.5, 1.2 * random() - 0.6]);
        const normal = some();
        // Along the normal, or near to it.
        const direction = n % 3 ? normal : unit([normal[0] + 0.2, normal[1], normal[2] + 0.1]);
        const tolerance = [0, 40, 400][n % 3]!;
        const least = 0.2;
        tree.sink(normal);
        const marks = marksOf(body, direction, RULES.theta, -Infinity);
        const out: CandidatePlane[] = [];
        sweep(body, tree, marks, tolerance, least, arcs, out);
        const heights = [...new Set(Array.from({ length: mesh.vertices.length / 3 }, (_, v) => dot(pointAt(mesh.vertices, v), normal)))]; // prettier-ignore
        for (const c of out) {
          expect(c.normal).toBe(normal);
          expect(c.direction).toBe(direction);
          expect(c.gain).toBeGreaterThan(least);
          // At a vertex the plane is just over it or just under it; the smallest piece of the same use, which
          // is stated with the gain of the largest, may bear less.
          const fits = [1e-7, -1e-7].some((by) =>
            piecesOver(body, worth, marks, normal, c.offset + by).some(
              (p) =>
                p.members.has(c.seed) &&
                !p.barred &&
                p.burden <= tolerance + 1e-6 &&
                p.gain > c.gain - 1e-6 &&
                p.area <= c.area + 1e-6,
            ),
          );
          expect(fits).toBe(true);
        }
        const sound = heights
          .flatMap((h) => piecesOver(body, worth, marks, normal, h + 1e-7))
          .filter((p) => !p.barred && p.burden <= tolerance && p.gain > least);
        const best = Math.max(0, ...sound.map((p) => p.gain + AREA_WORTH * p.area));
        const found = Math.max(0, ...out.map((c) => c.gain + AREA_WORTH * c.area));
        expect(found).toBeCloseTo(best, 6);
        // The best of those in which nothing hangs is among them too.
        const clean = Math.max(0, ...sound.filter((p) => p.burden === 0).map((p) => p.gain));
        expect(Math.max(0, ...out.map((c) => c.gain))).toBeGreaterThanOrEqual(clean - 1e-6);
      }
    },
  );

  it('no piece reaches under the floor of the head (seed 5)', () => {
    const random = seeded(5);
    const { vertices, triangles } = mesh;
    const z = (v: number): number => vertices[3 * v + 2]!;
    const floor = z(0) + 0.37 * (Math.max(...Array.from({ length: vertices.length / 3 }, (_, v) => z(v))) - z(0)); // prettier-ignore
    for (let n = 0; n < 15; n++) {
      const normal = unit([random() - 0.5, random() - 0.5, 0.5 * random()]);
      tree.sink(normal);
      const marks = marksOf(body, normal, RULES.theta, floor);
      const low = Array.from({ length: vertices.length / 3 }, (_, v) => v).filter(
        (v) => z(v) < floor,
      );
      for (const v of low) expect([...marks.barred]).toContain(v);
      const out: CandidatePlane[] = [];
      sweep(body, tree, marks, 100, 0.2, arcs, out);
      for (const c of out) {
        const piece = piecesOver(body, worth, marks, normal, c.offset + 1e-7).find((p) =>
          p.members.has(c.seed),
        );
        if (!piece) continue;
        for (let h = 0; h < triangles.length; h++) {
          const [a, b] = [triangles[h]!, triangles[next(h)]!];
          if (!piece.members.has(a)) continue;
          expect(z(a)).toBeGreaterThanOrEqual(floor);
          if (piece.members.has(b)) continue;
          const [p, q] = [a, b].map((v) => dot(pointAt(vertices, v), normal)) as [number, number];
          const share = (p - c.offset) / (p - q);
          expect(z(a) + share * (z(b) - z(a))).toBeGreaterThan(floor - 1e-6);
        }
      }
    }
  });
});

describe('planes and the directions that may be built on them', () => {
  it('are all that lean no more than is allowed, nearest first, the first of equals first (seed 6)', () => {
    const random = seeded(6);
    const some = (): Vec3 => unit([random() - 0.5, random() - 0.5, random() - 0.5]);
    const directions = [...Array.from({ length: 40 }, some), [0, 0, 1], [0.6, 0, 0.8], [-0.6, 0, 0.8], [0, 0.6, 0.8]] as Vec3[]; // prettier-ignore
    const normals = [...Array.from({ length: 10 }, some), directions[3]!, [0, 0, 1]] as Vec3[];
    for (const [lean, head] of [
      [0.7, 2],
      [2, 0.3],
      [0, 1],
    ] as const) {
      // prettier-ignore
      const planes = planeDirections({ directions, normals, lean } as never, { lean: head } as never); // prettier-ignore
      const most = Math.min(lean, head);
      const wanted = [...directions, ...normals.slice(0, 10)].map((normal) => ({
        normal,
        directions: directions
          .map((d, i) => ({ i, far: Math.round(1e9 * angle(d, normal)) }))
          .filter(({ far }) => far <= 1e9 * most + 1e5)
          .sort((a, b) => a.far - b.far || a.i - b.i)
          .map(({ i }) => i),
      }));
      expect(planes).toEqual(wanted.filter((w) => w.directions.length > 0));
    }
  });
});
