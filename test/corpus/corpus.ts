/**
 * Solids with what is known of them beforehand, as placed on the table: what hangs along +Z, how many
 * places start in the air, how many regions a plan needs at least and, by a construction, at most.
 * Millimetres; angles in degrees here, for people. All figures are closed forms (areas.ts) or follow
 * from the argument in `why`; none comes from the code under test.
 *
 * Meshes have steps of 2.5 or 3.75 deg where they are round, so that 30, 45 and 60 deg fall between
 * facets wherever the axes are level or upright; counts are asked beside them.
 */
import { DEG } from '../../lib/base/vector.js';
import type { Mesh } from '../../lib/mesh/mesh.js';
import * as make from '../support/shapes.js';
import * as hangs from './areas.js';

export interface Interval {
  readonly least: number;
  readonly most: number;
}

export interface Case {
  readonly name: string;
  /** Stands on z = 0. */
  readonly build: (limbs: make.Limbs) => Mesh;
  /** mm3 of the mesh; left out where no closed form is known. */
  readonly volume?: Interval;
  /** mm2 that hang along +Z by the angle of facets, those on the table left out; theta in deg. */
  readonly hanging: (theta: number) => Interval;
  /** Thetas (deg) for which `hanging` is meant; 30, 45 and 60 if left out. */
  readonly thetas?: readonly number[];
  /** Lowest places above the table along +Z with nothing under them; left out where a point touches it. */
  readonly islands?: number;
  /** Regions of a plan in which nothing hangs; the first one is built along +Z from the table. */
  readonly regions: readonly ({ readonly theta: number; readonly least: number } & {
    readonly most?: number;
  })[];
  readonly why: string;
}

/** Facets this near to the table may count as standing on it, mm. */
const TOUCH = 0.05;

const exactly = (value: number): Interval => ({
  least: value * (1 - 1e-9) - 1e-6,
  most: value * (1 + 1e-9) + 1e-6,
});
const within = (value: number, share: number): Interval => ({
  least: value * (1 - share),
  most: value * (1 + share),
});
/** A round thing that touches the table: the strip or cap below TOUCH may count or not. */
const touching = (value: number, foot: number, share: number): Interval => ({
  least: value * (1 - share) - foot,
  most: value * (1 + share),
});
const nothing = (): Interval => exactly(0);
/** How far from the lowest point of a circle of radius r it stays below TOUCH, rad. */
const low = (r: number): number => Math.acos(1 - TOUCH / r);
const { PI } = Math;

export const corpus: readonly Case[] = [
  {
    name: 'cuboid',
    build: () => make.cuboid([20, 20, 30]),
    volume: exactly(12000),
    hanging: nothing,
    islands: 0,
    regions: [{ theta: 45, least: 1, most: 1 }],
    why: 'upright walls',
  },
  {
    name: 'cone',
    build: () => make.cone(20, 30, 96),
    volume: exactly(10 * hangs.polygon(20, 96)),
    hanging: nothing,
    islands: 0,
    regions: [{ theta: 45, least: 1, most: 1 }],
    why: 'narrows upwards',
  },
  {
    name: 'upright pipe',
    build: () => make.pipe(12, 9, 40, 96),
    volume: exactly(40 * (hangs.polygon(12, 96) - hangs.polygon(9, 96))),
    hanging: nothing,
    islands: 0,
    regions: [{ theta: 45, least: 1, most: 1 }],
    why: 'upright walls, inside too',
  },
  {
    name: 'funnel of half-angle 40 deg',
    build: () => make.frustum(8, 20, 12 / Math.tan(40 * DEG), 96),
    hanging: (theta) =>
      theta < 40 ? exactly(hangs.frustumSide(8, 20, 12 / Math.tan(40 * DEG), 96)) : nothing(),
    thetas: [30, 39.5, 40.5, 45],
    islands: 0,
    regions: [{ theta: 40.5, least: 1, most: 1 }],
    why: 'its side hangs as a whole or not at all; facets of a 96-gon lean 0.015 deg less than the cone',
  },
  {
    name: 'narrow cone on its tip',
    build: () => make.coneOnTip(10, 30, 96),
    volume: exactly(10 * hangs.polygon(10, 96)),
    hanging: nothing,
    islands: 1,
    regions: [],
    why: 'its side leans 18 deg only, but nothing carries the tip',
  },
  {
    name: 'cube on its corner',
    build: () => make.cubeOnCorner(20),
    volume: exactly(8000),
    // Faces of a cube on its corner: n.z = -1 / sqrt 3, 35.26 deg.
    hanging: (theta) => exactly(theta < 35 ? 1200 : 0),
    islands: 1,
    regions: [],
    why: 'the facet rule passes it at 45 deg; its corner starts in the air',
  },
  {
    name: 'ball',
    build: () => make.standing(make.sphere(10, 144)),
    volume: within((4 / 3) * PI * 1000, 1e-3),
    // A zone of a sphere has the area 2 pi R times its height.
    hanging: (theta) => touching(hangs.sphere(10, theta * DEG), 2 * PI * 10 * TOUCH, 1e-3),
    regions: [],
    why: 'stands on a point',
  },
  {
    name: 'hollow ball',
    build: () => make.standing(make.hollowSphere(10, 8, 144)),
    volume: within((4 / 3) * PI * 488, 1e-3),
    hanging: (theta) =>
      touching(
        hangs.sphere(10, theta * DEG) + hangs.sphere(8, theta * DEG),
        2 * PI * 10 * TOUCH,
        1e-3,
      ),
    regions: [],
    why: 'roof of the cavity hangs as the skin does; the cavity is sealed, so something stays',
  },
  {
    name: 'cylinder lying',
    build: () => make.standing(make.cylinder(5, 20, 144, [1, 0, 0])),
    volume: exactly(20 * hangs.polygon(5, 144)),
    hanging: (theta) =>
      touching(hangs.cylinder(5, 20, PI / 2, theta * DEG), 2 * 5 * 20 * low(5), 1e-3),
    regions: [],
    why: 'stands on a line',
  },
  {
    name: 'rod leaning 60 deg',
    build: () =>
      make.standing(make.cylinder(5, 20, 144, [Math.sin(60 * DEG), 0, Math.cos(60 * DEG)])),
    volume: exactly(20 * hangs.polygon(5, 144)),
    // The end facing down leans 30 deg from level: n.z = -cos 60.
    hanging: (theta) => within(hangs.cylinder(5, 20, 60 * DEG, theta * DEG), 0.05),
    thetas: [35, 45, 50],
    regions: [],
    why: 'strips are in or out as a whole: 2.5 deg of about 70',
  },
  {
    name: 'ring lying',
    build: () => make.ringLying(20, 5, 360, 144),
    volume: within(9869.6044, 1e-3),
    hanging: (theta) =>
      touching(hangs.torus(20, 5, theta * DEG), 2 * PI * 20 * 2 * 5 * low(5), 1e-3),
    regions: [],
    why: 'stands on a circle',
  },
  {
    name: 'ring standing',
    build: () => make.ringStanding(20, 5, 144, 144),
    volume: within(9869.6044, 1e-3),
    hanging: (theta) => touching(hangs.torusUpright(20, 5, theta * DEG), 15, 0.03),
    regions: [],
    why: 'stands on a point; steps of 2.5 deg along a slanting edge',
  },
  {
    name: 'L on its long foot',
    build: () => make.lShape(),
    volume: exactly(28000),
    hanging: nothing,
    islands: 0,
    regions: [{ theta: 45, least: 1, most: 1 }],
    why: 'upright walls',
  },
  {
    name: 'post with an arm',
    build: () => make.postWithArm(),
    volume: exactly(28000),
    hanging: () => exactly(600),
    islands: 0,
    regions: [{ theta: 45, least: 2, most: 2 }],
    why: 'the underside of the arm, 30 x 20, hangs along +Z; one cut in the face of the post frees it',
  },
  {
    name: 'T on its foot',
    build: () => make.tShape(),
    volume: exactly(31000),
    hanging: () => exactly(1000),
    islands: 0,
    regions: [
      { theta: 45.5, least: 2, most: 3 },
      { theta: 44.5, least: 3, most: 3 },
    ],
    why:
      'the undersides, 25 x 20 each, hang along +Z. Beyond 45 deg one direction in the YZ plane, 45 ' +
      'deg from both underside and side wall, serves both arms; below it each needs its own',
  },
  {
    name: 'T lying',
    // Its outline flat on the table.
    build: () => make.standing(make.rotated(make.tShape(), make.frameAlong([0, 1, 0]))),
    volume: exactly(31000),
    hanging: nothing,
    islands: 0,
    regions: [{ theta: 45, least: 1, most: 1 }],
    why: 'an extrusion on its end; a free pose of the T finds it',
  },
  {
    name: 'Y of arms 40 deg off',
    build: (limbs) => limbs.yShape(40 * DEG, 6, 25, 40, 96),
    // The trunk hides 2.2 mm of the under line of an arm, less beside it.
    hanging: (theta) => ({
      least: 2 * hangs.cylinder(6, 37.8, 40 * DEG, theta * DEG) * 0.95 - 1e-6,
      most: 2 * hangs.cylinder(6, 40, 40 * DEG, theta * DEG) * 1.05 + 1e-6,
    }),
    thetas: [30, 40.5, 45],
    islands: 0,
    regions: [{ theta: 40.5, least: 1, most: 1 }],
    why: 'a cylinder that leans no more than theta carries itself; the ball in the fork is inside the trunk or the arms',
  },
  {
    name: 'Y of arms 70 deg off',
    build: (limbs) => limbs.yShape(70 * DEG, 6, 25, 40, 96),
    // The trunk hides 4.3 mm of the under line of an arm, 2 mm beside it.
    hanging: (theta) => ({
      least: 2 * hangs.cylinder(6, 40 - 4.3, 70 * DEG, theta * DEG) * 0.95,
      most: 2 * hangs.cylinder(6, 40 - 2, 70 * DEG, theta * DEG) * 1.05,
    }),
    thetas: [30, 45, 60],
    islands: 0,
    regions: [{ theta: 45, least: 2, most: 3 }],
    why: 'both arms hang along +Z; trunk, arm, arm is a plan',
  },
  {
    name: 'mushroom',
    build: () => make.mushroom(6, 30, 20, 8, 96),
    volume: exactly(30 * hangs.polygon(6, 96) + 8 * hangs.polygon(20, 96)),
    hanging: () => exactly(hangs.polygon(20, 96) - hangs.polygon(6, 96)),
    islands: 0,
    regions: [{ theta: 45.5, least: 3, most: 5 }],
    why:
      'seen along one sideways direction the far rim is a lowest point in the air, so the cap needs ' +
      'two; wedges of 90 and 270 deg do with them, four quarters with axis directions',
  },
  {
    name: 'elbow',
    build: () => make.elbow(20, 5, 0, 144, 72),
    volume: within((PI ** 2 * 20 * 25) / 2, 1e-3),
    hanging: (theta) => within(hangs.bend(20, 5, theta * DEG, true), 0.04),
    thetas: [30, 45],
    regions: [
      { theta: 45.5, least: 2, most: 2 },
      { theta: 44.5, least: 2, most: 3 },
      { theta: 30.5, least: 2, most: 3 },
      { theta: 29.5, least: 2, most: 4 },
    ],
    why:
      'most: cuts square to the axis, each region theta wide. With oblique cuts a section may belong ' +
      'to two regions, its under side to the one that leans, so no bound above 2 holds from below',
  },
  {
    name: 'hollow elbow',
    build: () => make.elbow(20, 5, 3, 144, 72),
    volume: within((PI ** 2 * 20 * 16) / 2, 1e-3),
    hanging: (theta) =>
      within(hangs.bend(20, 5, theta * DEG, true) + hangs.bend(20, 3, theta * DEG, false), 0.04),
    thetas: [30, 45],
    regions: [{ theta: 45.5, least: 2, most: 2 }],
    why: 'as the solid one: the bore leans as the skin does',
  },
  {
    name: 'arch',
    build: () => make.arch(20, 10, 15, 20, 48),
    volume: exactly(20 * (60 * 45 - 40 * 15 - hangs.polygon(20, 96) / 2)),
    hanging: (theta) => within(hangs.soffit(20, 20, theta * DEG), 1e-3),
    islands: 0,
    regions: [{ theta: 45.5, least: 2 }],
    why: 'the soffit hangs along +Z',
  },
  {
    name: 'trunk with four branches 60 deg off',
    build: (limbs) => limbs.trunkWithBranches(60 * DEG, 7, 60, 35, 96),
    // The trunk hides 4.3 to 5.6 mm of the strip under a branch.
    hanging: (theta) => ({
      least: 4 * hangs.cylinder(4.9, 35 - 5.6, 60 * DEG, theta * DEG) * 0.95,
      most: 4 * hangs.cylinder(4.9, 35 - 4.3, 60 * DEG, theta * DEG) * 1.05,
    }),
    thetas: [45],
    islands: 0,
    regions: [{ theta: 45, least: 2, most: 5 }],
    why: 'the branches hang along +Z; trunk and a region for each branch is a plan',
  },
  {
    name: 'hook',
    build: () =>
      make.upright(
        [
          [-5, 0],
          [5, 0],
          [5, 40],
          [30, 40],
          [30, 15],
          [40, 15],
          [40, 50],
          [-5, 50],
        ],
        12,
      ),
    volume: exactly(12 * (10 * 50 + 25 * 10 + 10 * 35)),
    hanging: () => exactly(12 * 35),
    islands: 1,
    regions: [],
    why: 'its finger begins in the air 15 mm above the table; only a direction from below builds it',
  },
];
