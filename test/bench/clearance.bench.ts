/**
 * Whether the head keeps 1 mm clear of the bunny on random straight joint moves that turn: the own
 * query, for the whole of a move, against a loop over three-mesh-bvh that stands at a place every
 * 0.1 mm and 0.2 deg and asks for anything nearer than that. Hierarchies are built beforehand on both
 * sides. The loop's head is a polygon of 96 sides inside the round one, and samples see no more than
 * there is, so the loop must never find a move too near that the query calls clear.
 */
import * as THREE from 'three';
import { MeshBVH } from 'three-mesh-bvh';
import { compose, inverse } from '../../lib/base/frame.js';
import type { Mesh } from '../../lib/base/mesh.js';
import { seeded } from '../../lib/base/random.js';
import { firstClose } from '../../lib/clearance/convex/conservative-advancement.js';
import { bodiesOf, lastCarrier, machineFrom } from '../../lib/clearance/machine-bodies.js';
import { meshBody } from '../../lib/clearance/body.js';
import { DistanceSearch } from '../../lib/clearance/nearest-on-path.js';
import { still } from '../../lib/clearance/body-path.js';
import { faceFrame } from '../../lib/machine/joint-chain.js';
import { type Frustum, outlineFrom } from '../../lib/machine/head.js';
import type { Machine } from '../../lib/machine/machine.js';
import { sampleMachine } from '../support/jobs.js';
import type { Row } from './bench.js';
import { bunny } from './meshes.js';

const MOVES = 24;
const NEED = 1;
/** Rounding of the library's float32, mm. */
const ROUNDING = 1e-3;

export async function run(): Promise<Row[]> {
  const machine = sampleMachine('table-table-ac');
  const mesh = bunny(0);
  const { head } = bodiesOf(machine);
  const part = {
    name: 'bunny',
    things: meshBody(mesh),
    carrier: lastCarrier(machine, true),
    fixed: faceFrame(machine),
  };
  const pair = { body: head, things: part, need: NEED };
  const tree = new MeshBVH(geometryOf(mesh));
  const moves = randomMoves(machine.joints.map((j) => j.kind === 'rotary'));
  const search = new DistanceSearch();
  const rest = still();
  const own = (): boolean[] =>
    moves.map(([a, b]) => firstClose(machine, search, pair, a, b, rest) !== undefined);
  const geometry = headGeometry(machine);
  const matrix = new THREE.Matrix4();
  const loop = (): boolean[] =>
    moves.map(([a, b]) => {
      const by = b.map((v, j) => Math.abs(v - a[j]!));
      const steps = Math.max(
        ...machine.joints.map((j, i) => by[i]! / (j.kind === 'rotary' ? TURN : STEP)),
      );
      const count = Math.ceil(steps);
      for (let k = 0; k <= count; k++) {
        const joints = a.map((v, j) => v + ((b[j]! - v) * k) / count);
        const frame = compose(
          inverse(machineFrom(machine, part, joints)),
          machineFrom(machine, head, joints),
        );
        matrix.fromArray(frame);
        const found = tree.closestPointToGeometry(
          geometry,
          matrix,
          {} as never,
          {} as never,
          0,
          NEED,
        );
        if (found && found.distance < NEED - ROUNDING) return true;
      }
      return false;
    });
  return compare(own, loop);
}

const STEP = 0.1;
const TURN = (0.2 * Math.PI) / 180;

function compare(own: () => boolean[], loop: () => boolean[]): Row[] {
  const [ours, a] = once(own);
  const [theirs, b] = once(loop);
  const count = (list: readonly boolean[]): number => list.filter(Boolean).length;
  const missed = theirs.filter((near, i) => near && !ours[i]).length;
  return [
    {
      name: `moves a second: 0.1 mm / 0.2 deg loop over three-mesh-bvh, own query, ${MOVES} moves`,
      a: (1000 * MOVES) / b,
      b: (1000 * MOVES) / a,
      ratio: b / a,
      want: { least: 1 },
    },
    {
      name: 'moves that come too near: loop, own query',
      a: count(theirs),
      b: count(ours),
      ratio: count(ours) / count(theirs),
      want: { least: 1 },
    },
    {
      name: 'moves that only the loop finds too near, of all',
      a: missed,
      b: MOVES,
      ratio: missed / MOVES,
      want: { most: 0 },
    },
  ];
}

/** What it finds, and the time after one call that warms up, ms. */
function once<T>(work: () => T): [T, number] {
  work();
  const start = performance.now();
  const found = work();
  return [found, performance.now() - start];
}

/** Moves of up to 20 mm a joint and 20 deg about and over the bunny, 100 mm high. */
function randomMoves(rotary: readonly boolean[]): [Float64Array, Float64Array][] {
  const random = seeded(3010);
  return Array.from({ length: MOVES }, () => {
    const a = Float64Array.from(rotary, (turns) =>
      turns ? (random() - 0.5) * 0.6 : 70 * (random() - 0.5),
    );
    // The lift stands first in the file: over the back, the head or the ears.
    a[0] = 60 + 60 * random();
    const b = a.map((v, j) => v + (random() - 0.5) * (rotary[j] ? 0.7 : 40));
    return [a, b];
  });
}

/** The head over the clearance: frusta of 96 sides, and its boxes. */
function headGeometry(machine: Machine): THREE.BufferGeometry {
  const parts = [
    ...outlineFrom(machine.stack, machine.clearance).map(lathed),
    ...machine.headBoxes.map(({ from, to }) => {
      const [x, y, z] = [0, 1, 2].map((c) => to[c]! - from[c]!) as [number, number, number];
      const middle = [0, 1, 2].map((c) => (to[c]! + from[c]!) / 2) as [number, number, number];
      return new THREE.BoxGeometry(x, y, z).translate(...middle);
    }),
  ];
  const points = parts.flatMap((p) => [...p.toNonIndexed().getAttribute('position').array]);
  const all = new THREE.BufferGeometry();
  all.setAttribute('position', new THREE.BufferAttribute(Float32Array.from(points), 3));
  all.boundsTree = new MeshBVH(all);
  return all;
}

const lathed = ({ low, lowRadius, high, highRadius }: Frustum): THREE.BufferGeometry =>
  new THREE.LatheGeometry(
    [
      [0, low],
      [lowRadius, low],
      [highRadius, high],
      [0, high],
    ].map(([r, y]) => new THREE.Vector2(r, y)),
    96,
  ).rotateX(Math.PI / 2);

function geometryOf({ vertices, triangles }: Mesh): THREE.BufferGeometry {
  const out = new THREE.BufferGeometry();
  out.setAttribute('position', new THREE.BufferAttribute(Float32Array.from(vertices), 3));
  out.setIndex(new THREE.BufferAttribute(triangles.slice(), 1));
  return out;
}
