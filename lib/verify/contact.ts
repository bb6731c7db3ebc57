/**
 * The head as it is drawn against single cubes of what is laid and against the table: the room about the
 * head, or the place of a touch. The head is taken a little higher than it stands, for a nozzle rubs over
 * what is laid at its level.
 */
import { type Frame, applyPoint, compose, inverse, shift } from '../base/frame.js';
import { type Vec3, pointAt } from '../base/vector.js';
import { machineFromHead, machineFromPart } from '../machine/joint-chain.js';
import type { Machine } from '../machine/machine.js';
import { headDistance, meshPoints } from '../machine/solid-distance.js';
import { type SampledBody, tableBody } from './bodies.js';
import { BrickCells } from './brick-cells.js';
import { Gauge } from './gauge.js';
import type { Grids } from './grids.js';

/** Circles of the head and the rim of the table are represented by points this far apart, mm. */
const ARC_SPACING = 0.25;
/** Spacing of the points on a table that is a mesh, mm. */
const MESH_SPACING = 1;

/** A touch: how deep, mm, where on the part, and how high over the tip. */
export interface HeadTouch {
  readonly block: number;
  readonly depth: number;
  readonly point: Vec3;
  readonly above: number;
  readonly what: 'the table' | 'what is printed';
}

export interface ContactLook {
  /** The head may move this far in any direction but down without touching what stands now, mm. */
  readonly gap: number;
  /** Where it touches, part frame. */
  readonly touch?: { readonly point: Vec3; readonly what: 'the table' | 'what is printed' };
}

/** A circle of the head's outline, or a corner of its boxes and meshes (radius 0); head frame, mm. */
interface OutlineCircle {
  readonly middle: Vec3;
  readonly radius: number;
}

export class HeadContact {
  readonly #machine: Machine;
  readonly #gauge: Gauge;
  /** Of each grid. */
  readonly #cells: readonly BrickCells[];
  readonly #lift: Frame;
  readonly #table: SampledBody;
  readonly #circles: readonly OutlineCircle[];
  readonly #rim: readonly Vec3[];

  /** @param lift how much higher than it stands the head is taken, mm */
  constructor(machine: Machine, { list }: Grids, lift: number) {
    this.#machine = machine;
    this.#gauge = new Gauge(machine);
    this.#cells = list.map((grid) => new BrickCells(grid, this.#gauge));
    this.#lift = shift([0, 0, lift]);
    this.#table = tableBody(machine);
    this.#circles = circlesOf(machine);
    this.#rim = rimOf(machine);
  }

  look(joints: ArrayLike<number>): ContactLook {
    const head = compose(machineFromHead(this.#machine, joints), this.#lift);
    const headFromPart = compose(inverse(head), machineFromPart(this.#machine, joints));
    this.#gauge.frame = headFromPart;
    let gap = Infinity;
    for (const cells of this.#cells) {
      const room = cells.room();
      if (room.cube) return { gap: 0, touch: { point: room.cube, what: 'what is printed' } };
      gap = Math.min(gap, room.gap);
    }
    const table = this.#overTable(headFromPart);
    return { gap: Math.min(gap, table.gap), ...(table.touch ? { touch: table.touch } : {}) };
  }

  /** While no circle of the outline dips under the face, none of what lies between two of them does. */
  #overTable(headFromPart: Frame): ContactLook {
    const partFromHead = inverse(headFromPart);
    if (this.#machine.tableMesh) return this.#besideTable(headFromPart, partFromHead);
    const sine = Math.hypot(partFromHead[8]!, partFromHead[9]!);
    let lowest = Infinity;
    for (const { middle, radius } of this.#circles) {
      lowest = Math.min(lowest, applyPoint(partFromHead, middle)[2] - radius * sine);
    }
    return lowest > 0 ? { gap: lowest } : this.#besideTable(headFromPart, partFromHead);
  }

  /** Circles of the head against the table as a body, and the rim of the table against the head. */
  #besideTable(headFromPart: Frame, partFromHead: Frame): ContactLook {
    let gap = Infinity;
    const touch = (point: Vec3): ContactLook => ({ gap: 0, touch: { point, what: 'the table' } });
    for (const { middle, radius } of this.#circles) {
      const count = Math.max(1, Math.ceil((2 * Math.PI * radius) / ARC_SPACING));
      for (let i = 0; i < count; i++) {
        const a = (2 * Math.PI * i) / count;
        const [x, y, z] = middle;
        const p = applyPoint(partFromHead, [x + radius * Math.cos(a), y + radius * Math.sin(a), z]);
        gap = Math.min(gap, this.#table.distance(p));
        if (gap === 0) return touch(p);
      }
    }
    for (const p of this.#rim) {
      gap = Math.min(gap, headDistance(this.#machine, applyPoint(headFromPart, p)));
      if (gap === 0) return touch(p);
    }
    return { gap: Math.max(0, gap - (this.#machine.tableMesh ? MESH_SPACING : ARC_SPACING)) };
  }
}

function circlesOf({ stack, headBoxes, headMeshes }: Machine): OutlineCircle[] {
  const corners = headBoxes.flatMap(({ from, to }) =>
    Array.from({ length: 8 }, (_, i): OutlineCircle => ({
      middle: [i & 1 ? from[0] : to[0], i & 2 ? from[1] : to[1], i & 4 ? from[2] : to[2]],
      radius: 0,
    })),
  );
  const round = stack.map(({ above, radius }): OutlineCircle => ({
    middle: [0, 0, above],
    radius,
  }));
  const vertices = headMeshes.flatMap(({ tree: { mesh } }) =>
    Array.from({ length: mesh.vertices.length / 3 }, (_, i): OutlineCircle => ({
      middle: pointAt(mesh.vertices, i),
      radius: 0,
    })),
  );
  return [...round, ...corners, ...vertices];
}

/** Points on the edges of the table's face and underside, or all over its mesh; part frame. */
function rimOf({ face, tableThickness, tableMesh }: Machine): Vec3[] {
  if (tableMesh) return meshPoints(tableMesh, MESH_SPACING);
  const outline: [number, number][] = [];
  if (face.shape === 'disc') {
    const count = Math.ceil((2 * Math.PI * face.radius) / ARC_SPACING);
    for (let i = 0; i < count; i++) {
      const a = (2 * Math.PI * i) / count;
      outline.push([face.radius * Math.cos(a), face.radius * Math.sin(a)]);
    }
  } else {
    const [x, y] = [face.size[0] / 2, face.size[1] / 2];
    for (let s = -1; s <= 1; s += ARC_SPACING / x) outline.push([s * x, -y], [s * x, y]);
    for (let s = -1; s <= 1; s += ARC_SPACING / y) outline.push([-x, s * y], [x, s * y]);
  }
  return outline.flatMap(([x, y]): Vec3[] => [
    [x, y, 0],
    [x, y, -tableThickness],
  ]);
}
