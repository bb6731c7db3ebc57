/**
 * A build direction is turned until a leaning piece no longer hangs, but never past what the machine, the
 * base, the table or the rest of the part allow. The piece is a sheared box: the flank under which nothing
 * lies leans by its own angle less the turn.
 */
import { describe, expect, it } from 'vitest';
import { DEG, type Vec3, angle } from '../../../lib/base/vector.js';
import type { Mesh } from '../../../lib/base/mesh.js';
import type { TaggedMesh } from '../../../lib/mesh/cut/section.js';
import { type SearchLimits, searchLimits } from '../../../lib/regions/search/machine-limits.js';
import { headTable } from '../../../lib/regions/search/head-clearance.js';
import type { CutPiece } from '../../../lib/regions/search/plan-state.js';
import { refinedDirections } from '../../../lib/regions/search/refine-directions.js';
import { pieceHangingCost } from '../../../lib/regions/search/remaining-body.js';
import { acJson, machineOf } from '../../machine/machines.js';
import { openLimits } from '../../support/limits.js';
import { cuboid, together } from '../../support/shapes.js';

const THETA = 45 * DEG;
const UP: Vec3 = [0, 0, 1];
/** Where the piece begins over the table, mm. */
const LOW = 20;

/** 10 x 10 mm, 12 mm high, leaning towards +X by an angle; its base is what cut 0 made. */
function leaningBox(degrees: number): CutPiece {
  const upright = cuboid([10, 10, 12], [0, 0, LOW]);
  const mesh: Mesh = {
    ...upright,
    vertices: upright.vertices.map((x, i, v) =>
      i % 3 === 0 ? x + (v[i + 2]! - LOW) * Math.tan(degrees * DEG) : x,
    ),
  };
  const level = (t: number): boolean =>
    [0, 1, 2].every((c) => mesh.vertices[3 * mesh.triangles[3 * t + c]! + 2] === LOW);
  const cut = Int32Array.from({ length: mesh.triangles.length / 3 }, (_, t) => (level(t) ? 0 : -1));
  const tagged: TaggedMesh = { mesh, cut };
  const { cost } = pieceHangingCost(tagged, 0, UP, THETA);
  const move = { direction: UP, normal: UP, offset: LOW, taken: [], left: [] };
  return { tagged, move, contact: 100, cost, ease: 0 };
}

const skin = (mesh: Mesh): TaggedMesh => ({
  mesh,
  cut: new Int32Array(mesh.triangles.length / 3).fill(-1),
});
const post = cuboid([10, 10, LOW]);

interface Case {
  readonly limits?: Partial<SearchLimits>;
  /** deg */
  readonly lean?: number;
  readonly rest?: Mesh;
}

/** The direction of the box that leans by an angle. */
function turned(degrees: number, { limits = {}, lean = 60, rest = post }: Case = {}): Vec3 {
  const all = { ...openLimits(110), ...limits };
  const rules = { theta: THETA, limits: all, lean: lean * DEG };
  const out = refinedDirections(leaningBox(degrees), skin(rest), 0, rules, headTable(all));
  return out.move.direction;
}

/** How far the flank leans from a direction, deg: 90 less the angle between its normal and straight down. */
const leans = (degrees: number, d: Vec3): number =>
  90 - angle([Math.cos(degrees * DEG), 0, -Math.sin(degrees * DEG)], [-d[0], -d[1], -d[2]]) / DEG;

describe('with nothing in the way', () => {
  it('a box that carries itself keeps its direction', () => {
    expect(turned(44)).toEqual(UP);
  });

  it.each([46, 48, 50, 51.9])(
    'one that leans by %d degrees, no more than a step too far, is turned until it does',
    (degrees) => {
      expect(leans(degrees, turned(degrees))).toBeLessThan(45 + 0.01);
    },
  );
});

describe('a box that leans by 47 degrees, which any turn of 2 degrees or more would help', () => {
  const free = turned(47);

  it('is turned if nothing forbids it', () => {
    expect(leans(47, free)).toBeLessThan(45.01);
  });

  it.each([1, 4, 30])(
    'leaves the table normal by no more than the machine reaches, %d degrees',
    (most) => {
      const canReach = (d: Vec3): boolean => angle(d, UP) <= most * DEG;
      const d = turned(47, { limits: { canReach } });
      expect(angle(d, UP)).toBeLessThanOrEqual(most * DEG);
      if (most > 3.5) expect(leans(47, d)).toBeLessThan(45.01);
    },
  );

  it('keeps to the side that the machine reaches', () => {
    const d = turned(47, { limits: { canReach: (v) => v[0] <= 1e-9 } });
    expect(d[0]).toBeLessThanOrEqual(1e-9);
    expect(leans(47, d)).toBeGreaterThan(46);
  });

  it.each([1, 4, 30])(
    'leaves the normal of its base by no more than it may lean, %d degrees',
    (lean) => {
      const d = turned(47, { lean });
      expect(angle(d, UP)).toBeLessThanOrEqual(lean * DEG + 1e-4);
      if (lean > 3.5) expect(leans(47, d)).toBeLessThan(45.01);
    },
  );

  it('stays upright where a piece as low as that must', () => {
    const need = (mm: number): Partial<SearchLimits> => ({
      leastTipHeight: (tilt) => (tilt > 1e-3 ? mm : 0),
    });
    expect(turned(47, { limits: need(LOW + 0.1) })).toEqual(UP);
    expect(turned(47, { limits: need(LOW - 0.1) })).toEqual(free);
  });

  it('is not turned to where a piece of this kind is barred', () => {
    expect(turned(47, { limits: { bars: (d) => d[0] > 0.01 } })[0]).toBeLessThanOrEqual(0.01);
  });

  it('is not turned where the head would then meet the rest', () => {
    const limits = searchLimits(machineOf(acJson()), 110);
    const wall = together(post, cuboid([4, 60, 80], [28, 0, 0]));
    expect(turned(47, { limits, rest: wall })).toEqual(UP);
    expect(leans(47, turned(47, { limits }))).toBeLessThan(45.01);
  });
});
