/**
 * Reader of GLB files (glTF 2.0, ISO/IEC 12113:2022): the triangles of the scene that is to be shown, in
 * their places. A GLB is in metres with +Y up (section 3.4); it comes out in millimetres with +Z up. The
 * primitives of a mesh, one for each of its colours, bound one solid together. What is drawn as points
 * or lines is left out and told, and so are bones and morph targets. An own reader: those published hold
 * no file against its bounds before they read it, and bring what shows it (textures, animation).
 */
import { Fault, type Finding } from '../base/fault.js';
import { printable } from '../base/phrases.js';
import { uint32List } from '../base/ragged.js';
import type { Mesh } from '../mesh/mesh.js';
import type { Facets } from '../mesh/repair/weld.js';
import { accessorAt, indicesOf, positionsOf } from './glb-accessor.js';
import { type GlbFile, type GltfNode, type GltfPrimitive, openGlb } from './glb-file.js';
import {
  PlacedSolids,
  type Transform,
  checkExpansion,
  facetsInMillimetres,
  inMillimetres,
  times,
} from './placed-solids.js';

export interface GlbMeshes {
  /** One closed mesh per node that has one. */
  readonly meshes: Mesh[];
  readonly findings: Finding[];
}

/** (x, y, z), Y up, becomes (x, -z, y), Z up. */
const FROM_GLTF: Transform = [1, 0, 0, 0, 0, 1, 0, -1, 0, 0, 0, 0];
const MM_PER_METRE = 1000;
/** Deepest nesting of nodes. */
const NODE_DEPTH = 100;
/** Modes of primitives; 5 is a strip, lesser ones are points and lines. */
const TRIANGLE_LIST = 4;
const TRIANGLE_FAN = 6;

interface PlacedNode {
  readonly node: GltfNode;
  readonly index: number;
  readonly transform: Transform;
}

/**
 * @param allow false refuses what would need healing
 * @throws Fault `glb/...`, `mesh/transform`, and of `heal`
 */
export function readGlb(bytes: Uint8Array, allow: boolean): GlbMeshes {
  const file = openGlb(bytes);
  const nodes = placedNodes(file).filter(({ node }) => node.mesh !== undefined);
  checkSize(file, nodes);
  const solids = new PlacedSolids<number>(allow);
  for (const { node, index, transform } of nodes) {
    const mesh = node.mesh!;
    if (trianglesOf(file, mesh).length === 0) continue;
    const name = `mesh "${printable(file.tree.meshes[mesh]!.name ?? node.name ?? String(index), 60)}"`;
    const facets = (): Facets => facetsInMillimetres(facetsOf(file, mesh), MM_PER_METRE);
    solids.place(mesh, facets, name, inMillimetres(transform, MM_PER_METRE));
  }
  if (solids.meshes.length === 0) {
    const message = `the scene has ${nodes.length} nodes with a mesh, and none of them has triangles`;
    throw new Fault('glb/no-mesh', message);
  }
  return {
    meshes: solids.meshes,
    findings: [...leftOut(file, nodes), ...solids.findings],
  };
}

const missing = (what: string, index: number, count: number): Fault =>
  new Fault('glb/reference', `${what} ${index} is not there; the file has ${count}`);

/** The nodes of the scene, or of all scenes' roots where the file has no scene. */
function placedNodes({ tree }: GlbFile): PlacedNode[] {
  const { nodes, scenes } = tree;
  const at = tree.scene ?? 0;
  const scene = scenes[at];
  if (!scene && (tree.scene !== undefined || scenes.length > 0))
    throw missing('scene', at, scenes.length);
  const inner = new Set(nodes.flatMap((n) => n.children));
  const roots = scene?.nodes ?? nodes.map((_, i) => i).filter((i) => !inner.has(i));
  const out: PlacedNode[] = [];
  const seen = new Set<number>();
  const visit = (index: number, outer: Transform, depth: number): void => {
    const node = nodes[index];
    if (!node) throw missing('node', index, nodes.length);
    if (seen.has(index)) {
      throw new Fault(
        'glb/reference',
        `node ${index} stands in more than 1 place; nodes are a tree`,
      );
    }
    if (depth > NODE_DEPTH) {
      throw new Fault('glb/too-large', `nodes nest deeper than ${NODE_DEPTH}, which is the limit`);
    }
    seen.add(index);
    if (node.extensions && 'EXT_mesh_gpu_instancing' in node.extensions) {
      const message = `node ${index} is repeated by EXT_mesh_gpu_instancing, which is not read`;
      throw new Fault('glb/extension', message);
    }
    const transform = times(transformOf(node), outer);
    out.push({ node, index, transform });
    for (const child of node.children) visit(child, transform, depth + 1);
  };
  for (const root of roots) visit(root, FROM_GLTF, 1);
  return out;
}

/** A node's matrix, or scale, then rotation (a unit quaternion), then translation (section 3.5.3). */
function transformOf({ matrix, translation, rotation, scale }: GltfNode): Transform {
  // Columns of a matrix for column vectors are rows of one for row vectors.
  if (matrix) return [0, 1, 2, 4, 5, 6, 8, 9, 10, 12, 13, 14].map((i) => matrix[i]!);
  const [x, y, z, w] = (rotation ?? [0, 0, 0, 1]) as [number, number, number, number];
  const [a, b, c] = (scale ?? [1, 1, 1]) as [number, number, number];
  return [
    a * (1 - 2 * (y * y + z * z)),
    a * 2 * (x * y + z * w),
    a * 2 * (x * z - y * w),
    b * 2 * (x * y - z * w),
    b * (1 - 2 * (x * x + z * z)),
    b * 2 * (y * z + x * w),
    c * 2 * (x * z + y * w),
    c * 2 * (y * z - x * w),
    c * (1 - 2 * (x * x + y * y)),
    ...(translation ?? [0, 0, 0]),
  ];
}

/** The primitives of a mesh that are drawn as triangles. */
function trianglesOf({ tree }: GlbFile, index: number): GltfPrimitive[] {
  const mesh = tree.meshes[index];
  if (!mesh) throw missing('mesh', index, tree.meshes.length);
  return mesh.primitives.filter(
    (p) =>
      p.mode >= TRIANGLE_LIST && p.mode <= TRIANGLE_FAN && p.attributes['POSITION'] !== undefined,
  );
}

/** Counts what the nodes would make, by what the accessors say, before anything is made. */
function checkSize(file: GlbFile, nodes: readonly PlacedNode[]): void {
  const sizes = new Map<number, number>();
  let triangles = 0;
  for (const { node } of nodes) {
    const mesh = node.mesh!;
    let size = sizes.get(mesh);
    if (size === undefined) {
      size = trianglesOf(file, mesh).reduce((sum, { indices, attributes, mode }) => {
        const { count } = accessorAt(file, indices ?? attributes['POSITION']!);
        return sum + Math.floor(mode === TRIANGLE_LIST ? count / 3 : count);
      }, 0);
      sizes.set(mesh, size);
    }
    triangles += size;
  }
  checkExpansion('glb/too-large', triangles, nodes.length);
}

/** All triangles of a mesh, as they are stored. */
function facetsOf(file: GlbFile, index: number): Facets {
  const parts = trianglesOf(file, index).map((primitive) =>
    primitiveFacets(file, primitive, index),
  );
  const vertices = new Float64Array(parts.reduce((n, p) => n + p.vertices.length, 0));
  const triangles = uint32List();
  let from = 0;
  for (const part of parts) {
    vertices.set(part.vertices, 3 * from);
    for (const v of part.triangles) triangles.push(from + v);
    from += part.vertices.length / 3;
  }
  return { vertices, triangles: triangles.take() };
}

function primitiveFacets(file: GlbFile, primitive: GltfPrimitive, mesh: number): Facets {
  const { attributes, indices, mode, extensions } = primitive;
  if (extensions && 'KHR_draco_mesh_compression' in extensions) {
    const message = `mesh ${mesh} is compressed by KHR_draco_mesh_compression, which is not read`;
    throw new Fault('glb/extension', message);
  }
  const vertices = positionsOf(file, attributes['POSITION']!);
  const count = vertices.length / 3;
  const numbers =
    indices === undefined
      ? Float64Array.from({ length: count }, (_, i) => i)
      : indicesOf(file, indices);
  const beyond = numbers.find((v) => v >= count);
  if (beyond !== undefined) {
    const message = `mesh ${mesh}: vertex number ${beyond}; the mesh has ${count} vertices, counted from 0`;
    throw new Fault('glb/reference', message);
  }
  return { vertices, triangles: cornersOf(numbers, mode, mesh) };
}

/** Corners of the triangles of a list, strip or fan (section 3.7.2.1). */
function cornersOf(v: Float64Array, mode: number, mesh: number): Uint32Array {
  if (mode === TRIANGLE_LIST) {
    if (v.length % 3 === 0) return Uint32Array.from(v);
    const message = `mesh ${mesh}: ${v.length} corners of triangles; a multiple of 3 is asked for`;
    throw new Fault('glb/value', message);
  }
  const out = uint32List();
  for (let i = 0; i + 2 < v.length; i++) {
    if (mode === TRIANGLE_FAN) out.push3(v[i + 1]!, v[i + 2]!, v[0]!);
    else out.push3(v[i]!, v[i + 1 + (i % 2)]!, v[i + 2 - (i % 2)]!);
  }
  return out.take();
}

function leftOut(file: GlbFile, nodes: readonly PlacedNode[]): Finding[] {
  const { meshes } = file.tree;
  const drawn = nodes.reduce(
    (n, { node }) =>
      n + meshes[node.mesh!]!.primitives.filter((p) => p.mode < TRIANGLE_LIST).length,
    0,
  );
  const posed = nodes.filter(
    ({ node }) =>
      node.skin !== undefined || meshes[node.mesh!]!.primitives.some((p) => p.targets?.length),
  ).length;
  const out: Finding[] = [];
  if (drawn > 0) {
    const message = `${drawn} of the placed surfaces are drawn as points or lines and were left out`;
    out.push({ code: 'glb/left-out', severity: 'warning', message });
  }
  if (posed > 0) {
    const message = `${posed} meshes are bent by bones or morph targets; they were read as they stand without`;
    out.push({ code: 'glb/unposed', severity: 'warning', message });
  }
  return out;
}
