/**
 * What can touch what on the machine: the head, the table, what is printed, and the solids of the machine
 * file, each as points on its surface in a frame that some joint carries, and most with a distance to any
 * point.
 */
import { type Frame, applyPoint } from '../base/frame.js';
import type { Mesh } from '../base/mesh.js';
import { type Vec3, length, sub } from '../base/vector.js';
import { carriedBy, machineFromHead, machineFromPart } from '../machine/joint-chain.js';
import { radiusAt } from '../machine/head.js';
import type { Machine, Solid } from '../machine/machine.js';
import {
  ballAround,
  headDistance,
  meshDistance,
  meshPoints,
  solidDistance,
  surfacePoints,
} from '../machine/solid-distance.js';
import { treeOf } from '../mesh/bvh.js';

/** Points that stand for a surface are this far apart, mm. */
export const SURFACE_SPACING = 3;

interface Ball {
  readonly centre: Vec3;
  readonly radius: number;
}

/** Points that lie close together, and a ball around them. */
export interface Patch {
  readonly points: readonly Vec3[];
  readonly ball: Ball;
}

export interface SampledBody {
  readonly name: string;
  /** Index of the joint that carries it, -1 for the frame. */
  readonly carrier: number;
  /** Points on the surface, in the frame of the body. */
  readonly points: readonly Vec3[];
  /** A ball around them. */
  readonly ball: Ball;
  /** The same points by where they lie. */
  readonly patches: readonly Patch[];
  /** Distance of a point of that frame to the body, 0 inside. */
  readonly distance: (p: Vec3) => number;
  /** Machine points from the body's. */
  readonly frame: (joints: Float64Array) => Frame;
}

export function headBody(machine: Machine): SampledBody {
  return {
    name: 'the head',
    carrier: lastOf(machine, false),
    ...skin(headSurface(machine), (p) => headDistance(machine, p)),
    frame: (joints) => machineFromHead(machine, joints),
  };
}

export function tableBody(machine: Machine): SampledBody {
  const { face, tableThickness: depth, tableMesh } = machine;
  const solid: Solid =
    face.shape === 'disc'
      ? { shape: 'cylinder', from: [0, 0, -depth], to: [0, 0, 0], radius: face.radius }
      : {
          shape: 'box',
          from: [-face.size[0] / 2, -face.size[1] / 2, -depth],
          to: [face.size[0] / 2, face.size[1] / 2, 0],
        };
  return {
    name: 'the table',
    carrier: lastOf(machine, true),
    ...(tableMesh ? meshSkin(tableMesh) : solidSkin(solid)),
    frame: (joints) => machineFromPart(machine, joints),
  };
}

export const guardBodies = (machine: Machine): SampledBody[] =>
  machine.obstacles.map(({ name, carriedBy: carrier, solid }) => ({
    name: `"${name}"`,
    carrier,
    ...(solid.shape === 'mesh' ? meshSkin(solid.mesh) : solidSkin(solid)),
    frame: (joints) => carriedBy(machine, joints, carrier),
  }));

type BodySurface = Pick<SampledBody, 'points' | 'ball' | 'patches' | 'distance'>;

const skin = (
  points: readonly Vec3[],
  distance: BodySurface['distance'],
  ball: Ball = ballOf(points),
): BodySurface => ({ points, ball, patches: patchesOf(points), distance });

const solidSkin = (solid: Solid): BodySurface =>
  skin(surfacePoints(solid, SURFACE_SPACING), (p) => solidDistance(solid, p), ballAround(solid));

function meshSkin(mesh: Mesh): BodySurface {
  const tree = treeOf(mesh);
  return skin(meshPoints(mesh, SURFACE_SPACING), (p) => meshDistance(tree, p));
}

/** Edge of the cubes by which points are taken together, mm. */
const PATCH_EDGE = 8 * SURFACE_SPACING;

function patchesOf(points: readonly Vec3[]): Patch[] {
  const cells = new Map<string, Vec3[]>();
  for (const p of points) {
    const key = p.map((x) => Math.floor(x / PATCH_EDGE)).join(' ');
    const known = cells.get(key);
    if (known) known.push(p);
    else cells.set(key, [p]);
  }
  return [...cells.values()].map((of) => ({ points: of, ball: ballOf(of) }));
}

/** A ball about the middle of the points' extent. */
function ballOf(points: readonly Vec3[]): Ball {
  // A mesh may have more points than a call takes arguments.
  const middle = (c: 0 | 1 | 2): number => {
    let [low, high] = [Infinity, -Infinity];
    for (const p of points) [low, high] = [Math.min(low, p[c]), Math.max(high, p[c])];
    return (low + high) / 2;
  };
  const centre: Vec3 = [middle(0), middle(1), middle(2)];
  return { centre, radius: points.reduce((far, p) => Math.max(far, length(sub(p, centre))), 0) };
}

/** Joint that carries everything of one side; -1 where that side stands still. */
const lastOf = (machine: Machine, table: boolean): number =>
  machine.joints.findLastIndex((j) => j.carriesTable === table);

/** Rings over the round outline, the boxes and the meshes. */
function headSurface(machine: Machine): Vec3[] {
  const out: Vec3[] = [];
  const top = Math.max(0, ...machine.stack.map((s) => s.above));
  const ring = (above: number, radius: number): void => {
    const count = Math.max(1, Math.ceil((2 * Math.PI * radius) / SURFACE_SPACING));
    for (let k = 0; k < count; k++) {
      const a = (2 * Math.PI * k) / count;
      out.push([radius * Math.cos(a), radius * Math.sin(a), above]);
    }
  };
  const flat = (above: number, to: number): void => {
    for (let r = to; r > 0; r -= SURFACE_SPACING) ring(above, r);
  };
  for (let s = 0; s < top; s += SURFACE_SPACING) ring(s, radiusAt(machine.stack, s));
  for (const { above, radius } of machine.stack) flat(above, radius);
  for (const box of machine.headBoxes) {
    out.push(...surfacePoints({ shape: 'box', from: box.from, to: box.to }, SURFACE_SPACING));
  }
  const meshes = machine.headMeshes.flatMap(({ tree }) => meshPoints(tree.mesh, SURFACE_SPACING));
  return [...out.filter((p) => p.every(Number.isFinite)), ...meshes];
}

/** What is printed so far, in cells of two sizes, so that most of it is skipped quickly. */
export class PrintedCells {
  /** Middles of the cells of `size` mm that hold material. */
  readonly middles: Vec3[] = [];
  readonly #fine: Vec3[][] = [];
  readonly #seen = new Map<number, number>();
  readonly #fineSeen = new Set<number>();
  readonly #corner: Vec3;

  /** @param corner from which cells count: below all places that are added, mm */
  constructor(corner: Vec3) {
    this.#corner = corner;
  }

  /** A point is material now. @returns true if it is the first of its coarse cell */
  add(p: Vec3): boolean {
    const fine = this.#key(p, PrintedCells.fine);
    if (this.#fineSeen.has(fine)) return false;
    this.#fineSeen.add(fine);
    const key = this.#key(p, PrintedCells.size);
    let cell = this.#seen.get(key);
    const first = cell === undefined;
    if (cell === undefined) {
      cell = this.middles.length;
      this.#seen.set(key, cell);
      this.middles.push(this.#middle(p, PrintedCells.size));
      this.#fine.push([]);
    }
    this.#fine[cell]!.push(this.#middle(p, PrintedCells.fine));
    return first;
  }

  finePoints(cell: number): readonly Vec3[] {
    return this.#fine[cell]!;
  }

  /** Edges of the cells, mm, and half of their diagonals. */
  static readonly size = 8;
  static readonly fine = 1;
  static readonly half = (PrintedCells.size / 2) * Math.sqrt(3);

  #key([x, y, z]: Vec3, size: number): number {
    const origin = this.#corner;
    const i = Math.floor((x - origin[0]) / size);
    const k = Math.floor((y - origin[1]) / size);
    return (i * 8192 + k) * 8192 + Math.floor((z - origin[2]) / size);
  }

  #middle(p: Vec3, size: number): Vec3 {
    const origin = this.#corner;
    return [0, 1, 2].map(
      (c) => (Math.floor((p[c]! - origin[c]!) / size) + 0.5) * size + origin[c]!,
    ) as unknown as Vec3;
  }
}

/**
 * Least distance of the points of one body to another, in the frame that maps between them. A distance
 * changes by no more than the way, so a patch whose ball is farther than the least so far is passed over:
 * asking every point took twice as long for the whole check where large bodies slide along one another.
 */
export function leastDistance(
  { patches }: Pick<SampledBody, 'patches'>,
  frame: Frame,
  distance: (p: Vec3) => number,
): { gap: number; point: Vec3 | undefined } {
  let gap = Infinity;
  let point: Vec3 | undefined;
  const bounds = new Float64Array(patches.length);
  let nearest = 0;
  for (let i = 0; i < patches.length; i++) {
    const { ball } = patches[i]!;
    bounds[i] = distance(applyPoint(frame, ball.centre)) - ball.radius;
    if (bounds[i]! < bounds[nearest]!) nearest = i;
  }
  const look = (i: number): void => {
    if (bounds[i]! >= gap || gap === 0) return;
    for (const p of patches[i]!.points) {
      const d = distance(applyPoint(frame, p));
      if (d >= gap) continue;
      gap = d;
      point = p;
      if (d === 0) return;
    }
  };
  look(nearest);
  for (let i = 0; i < patches.length; i++) if (i !== nearest) look(i);
  return { gap, point };
}
