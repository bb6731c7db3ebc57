/**
 * Mesh files that a machine file names are read into it, so that the JSON needs no file beside it. That
 * is done once, where the files lie; what is kept, sent or put into a measured file carries its meshes
 * with it.
 */
import { readSurface } from '../formats/read-part.js';
import type { z } from 'zod';
import type { Mesh } from '../base/mesh.js';
import { namedMesh } from './simple-solids.js';

type Named = z.output<typeof namedMesh>;

/** The names of mesh files in a machine file, as they stand; what is not written well is left out. */
export function meshNames(json: unknown): string[] {
  const names = new Set<string>();
  replaced(json, (mesh) => names.add(mesh.name));
  return [...names];
}

/**
 * @param files contents by name; all of `meshNames`
 * @throws Fault `mesh/...`, with `at.file` set to the name of the mesh file
 */
export const withMeshes = (json: unknown, files: ReadonlyMap<string, Uint8Array>): unknown =>
  replaced(json, ({ name, unit }) => inline(readSurface(files.get(name)!, name, unit)));

function replaced(value: unknown, make: (mesh: Named) => unknown): unknown {
  if (Array.isArray(value)) return value.map((v) => replaced(v, make));
  if (value === null || typeof value !== 'object') return value;
  const mesh = namedMesh.safeParse(value);
  if (mesh.success) return make(mesh.data);
  return Object.fromEntries(Object.entries(value).map(([key, v]) => [key, replaced(v, make)]));
}

function inline({ vertices, triangles }: Mesh): object {
  const threes = (list: ArrayLike<number>): number[][] =>
    Array.from({ length: list.length / 3 }, (_, i) => [
      list[3 * i]!,
      list[3 * i + 1]!,
      list[3 * i + 2]!,
    ]);
  return { shape: 'mesh', vertices: threes(vertices), triangles: threes(triangles) };
}
