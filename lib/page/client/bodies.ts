/**
 * Head, table, cradle and frame as the machine file describes them, and the part's skin. Joint values
 * move them; the paths belong to the group of what the table carries.
 */
import {
  BoxGeometry,
  BufferAttribute,
  BufferGeometry,
  Color,
  CylinderGeometry,
  DoubleSide,
  EdgesGeometry,
  Group,
  LatheGeometry,
  LineBasicMaterial,
  LineSegments,
  Matrix4,
  Mesh,
  MeshLambertMaterial,
  Quaternion,
  Vector2,
  Vector3,
} from 'three';
import type { Frame } from '../../base/frame.js';
import type { Vec3 } from '../../base/vector.js';
import { carriedBy, machineFromHead, machineFromPart } from '../../machine/joint-chain.js';
import type { Machine, Solid } from '../../machine/machine.js';
import type { MeshSolid } from '../../machine/simple-solids.js';

export interface BodyColours {
  readonly head: string;
  readonly table: string;
  readonly frame: string;
}

/** Bodies of the machine under one root; `part` is where the part stands. */
export class Bodies {
  readonly root = new Group();
  readonly part = new Group();
  readonly #machine: Machine;
  readonly #head = new Group();
  readonly #carried: { readonly group: Group; readonly joint: number }[] = [];
  readonly #shown: Group[] = [];
  readonly #materials: Record<keyof BodyColours, MeshLambertMaterial>;
  readonly #edges = new LineBasicMaterial({ transparent: true, opacity: 0.35 });

  constructor(machine: Machine) {
    this.#machine = machine;
    this.#materials = {
      head: solid(0.9),
      table: solid(1),
      frame: solid(0.16),
    };
    for (const group of [this.part, this.#head]) {
      group.matrixAutoUpdate = false;
      this.root.add(group);
    }
    this.root.matrixAutoUpdate = false;
    this.#addHead();
    this.#addTable();
    for (const { solid: body, carriedBy: joint } of machine.obstacles)
      this.#addObstacle(body, joint);
  }

  /** @param joints mm and rad @param still what stands still on the screen */
  pose(joints: Float64Array, still: 'part' | 'frame'): void {
    const part = matrix(machineFromPart(this.#machine, joints));
    this.part.matrix.copy(part);
    this.#head.matrix.copy(matrix(machineFromHead(this.#machine, joints)));
    for (const { group, joint } of this.#carried) {
      group.matrix.copy(matrix(carriedBy(this.#machine, joints, joint)));
    }
    if (still === 'part') this.root.matrix.copy(part).invert();
    else this.root.matrix.identity();
    this.root.matrixWorldNeedsUpdate = true;
  }

  show(machine: boolean): void {
    for (const group of this.#shown) group.visible = machine;
  }

  recolour(look: BodyColours): void {
    for (const key of Object.keys(look) as (keyof BodyColours)[]) {
      this.#materials[key].color = new Color(look[key]);
    }
    this.#edges.color = new Color(look.frame);
  }

  #addHead(): void {
    const { stack, headBoxes, headMeshes } = this.#machine;
    const group = new Group();
    if (stack.length > 0) group.add(new Mesh(turnedOf(stack), this.#materials.head));
    for (const { tree } of headMeshes) {
      group.add(new Mesh(facetsOf(tree.mesh), this.#materials.head));
    }
    for (const box of headBoxes) {
      group.add(new Mesh(boxOf(box.from, box.to), this.#materials.head));
    }
    this.#head.add(group);
    this.#shown.push(group);
  }

  /** The face lies on z = 0 of the part frame. */
  #addTable(): void {
    const { face, tableMesh } = this.#machine;
    const group = new Group();
    const body = tableMesh ? facetsOf(tableMesh) : plateOf(this.#machine);
    const lines = face.shape === 'disc' ? rings(face.radius) : squares(...face.size);
    group.add(new Mesh(body, this.#materials.table), new LineSegments(lines, this.#edges));
    this.part.add(group);
    this.#shown.push(group);
  }

  #addObstacle(body: Solid | MeshSolid, joint: number): void {
    const geometry = shapeOf(body);
    const group = new Group();
    group.matrixAutoUpdate = false;
    const inner = new Group();
    inner.add(
      new Mesh(geometry, this.#materials.frame),
      new LineSegments(new EdgesGeometry(geometry, 30), this.#edges),
    );
    group.add(inner);
    this.root.add(group);
    this.#carried.push({ group, joint });
    this.#shown.push(inner);
  }
}

/** The turned outline of the head, closed at both ends. */
function turnedOf(stack: Machine['stack']): BufferGeometry {
  const outline = stack.map(({ above, radius }) => new Vector2(radius, above));
  outline.unshift(new Vector2(0, stack[0]!.above));
  outline.push(new Vector2(0, stack.at(-1)!.above));
  return new LatheGeometry(outline, 48).rotateX(Math.PI / 2);
}

function plateOf({ face, tableThickness: t }: Machine): BufferGeometry {
  if (face.shape === 'rectangle') {
    const [x, y] = face.size;
    return boxOf([-x / 2, -y / 2, -t], [x / 2, y / 2, 0]);
  }
  const disc = new CylinderGeometry(face.radius, face.radius, t, 96);
  return disc.rotateX(Math.PI / 2).translate(0, 0, -t / 2);
}

function solid(opacity: number): MeshLambertMaterial {
  const clear = opacity < 1;
  return new MeshLambertMaterial({
    transparent: clear,
    opacity,
    depthWrite: opacity > 0.5,
    side: DoubleSide,
    polygonOffset: true,
    polygonOffsetFactor: 1,
    polygonOffsetUnits: 1,
  });
}

/** Frames are column-major, as three's matrices. */
const matrix = (frame: Frame): Matrix4 => new Matrix4().fromArray(frame);

function shapeOf(body: Solid | MeshSolid): BufferGeometry {
  switch (body.shape) {
    case 'box':
      return boxOf(body.from, body.to);
    case 'cylinder':
      return rodOf(body);
    case 'mesh':
      return facetsOf(body.mesh);
  }
}

function facetsOf({ vertices, triangles }: MeshSolid['mesh']): BufferGeometry {
  const points = new Float32Array(3 * triangles.length);
  triangles.forEach((v, i) => points.set(vertices.subarray(3 * v, 3 * v + 3), 3 * i));
  const geometry = new BufferGeometry();
  geometry.setAttribute('position', new BufferAttribute(points, 3));
  geometry.computeVertexNormals();
  return geometry;
}

function boxOf(from: Vec3, to: Vec3): BufferGeometry {
  const box = new BoxGeometry(to[0] - from[0], to[1] - from[1], to[2] - from[2]);
  return box.translate((from[0] + to[0]) / 2, (from[1] + to[1]) / 2, (from[2] + to[2]) / 2);
}

function rodOf({ from, to, radius }: Extract<Solid, { shape: 'cylinder' }>): BufferGeometry {
  const a = new Vector3(...from);
  const b = new Vector3(...to);
  const rod = new CylinderGeometry(radius, radius, a.distanceTo(b), 48);
  const along = b.clone().sub(a).normalize();
  rod.applyQuaternion(new Quaternion().setFromUnitVectors(new Vector3(0, 1, 0), along));
  const middle = a.add(b).multiplyScalar(0.5);
  return rod.translate(middle.x, middle.y, middle.z);
}

/** Circles every 20 mm and a cross, a hair over the face. */
function rings(radius: number): BufferGeometry {
  const points: number[] = [];
  for (let r = 20; r <= radius; r += 20) {
    for (let i = 0; i < 96; i++) {
      for (const k of [i, i + 1]) {
        const a = (2 * Math.PI * k) / 96;
        points.push(r * Math.cos(a), r * Math.sin(a), 0.02);
      }
    }
  }
  points.push(-radius, 0, 0.02, radius, 0, 0.02, 0, -radius, 0.02, 0, radius, 0.02);
  return lines(points);
}

function squares(x: number, y: number): BufferGeometry {
  const points: number[] = [];
  for (let u = -Math.floor(x / 40) * 20; u <= x / 2; u += 20) {
    points.push(u, -y / 2, 0.02, u, y / 2, 0.02);
  }
  for (let v = -Math.floor(y / 40) * 20; v <= y / 2; v += 20) {
    points.push(-x / 2, v, 0.02, x / 2, v, 0.02);
  }
  return lines(points);
}

function lines(points: readonly number[]): BufferGeometry {
  return new BufferGeometry().setAttribute(
    'position',
    new BufferAttribute(new Float32Array(points), 3),
  );
}
