/**
 * Meshes of npm packages (test dependencies, never copied here) as closed mesh records, in the units
 * of their files; and ways to make them larger: to a height in mm, and to more triangles.
 * Licences: bunny public domain, stl-models and node-stl MIT.
 */
import { existsSync, readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { join } from 'node:path';
import { turn } from '../../lib/base/frame.js';
import { bounds } from '../../lib/mesh/measure.js';
import { meshFrom, moved, scaled } from '../../lib/mesh/build.js';
import { heal } from '../../lib/mesh/repair/heal.js';
import { type Mesh, next } from '../../lib/mesh/mesh.js';
import { readBinaryStl } from '../../lib/formats/stl.js';

const require = createRequire(import.meta.url);

/** The bytes of a file of an installed package, found from wherever this module is built to. */
export function packageFile(path: string): Uint8Array {
  for (const folder of require.resolve.paths(path) ?? []) {
    const file = join(folder, path);
    if (existsSync(file)) return readFileSync(file);
  }
  throw new Error(`no installed package has ${path}`);
}

const healedStl = (path: string): Mesh => heal(readBinaryStl(packageFile(path)), true).mesh;

/** 69,664 triangles, genus 0: the scanned bunny of stl-models, its five holes filled; +Y up, 0.154 units high. */
export const bunny69k = (): Mesh => healedStl('stl-models/objects/bunny.bin.stl');

/** 2,444 triangles, genus 1: the gearwheel of stl-models, 42 mm across, 8 mm thick. */
export const gearwheel = (): Mesh => healedStl('stl-models/objects/gearwheel.bin.stl');

/** 201,284 triangles, one shell, genus 0: the winged figure of node-stl, 60 x 45 x 50 mm. */
export const figure200k = (): Mesh => healedStl('node-stl/test/test_data/Pterosaur_FDM.stl');

/** The coarse scanned bunny of the package `bunny`, 3,674 triangles, genus 0; +Y up, 9.7 units high. */
export function bunny3k(): Mesh {
  const { positions, cells } = require('bunny') as {
    positions: [number, number, number][];
    cells: [number, number, number][];
  };
  return heal(
    { vertices: Float64Array.from(positions.flat()), triangles: Uint32Array.from(cells.flat()) },
    true,
  ).mesh;
}

/** A mesh that has +Y up, turned to have +Z up. */
export function yUp(mesh: Mesh): Mesh {
  return moved(mesh, turn([1, 0, 0], Math.PI / 2));
}

/** Scaled evenly to `mm` in Z and moved so that it stands on z = 0 with the middle of its extent over the origin. */
export function scaledToHeight(mesh: Mesh, mm: number): Mesh {
  const { least, most } = bounds(mesh);
  const big = scaled(mesh, mm / (most[2] - least[2]));
  const b = bounds(big);
  const by = [(b.least[0] + b.most[0]) / 2, (b.least[1] + b.most[1]) / 2, b.least[2]];
  return { ...big, vertices: big.vertices.map((x, i) => x - by[i % 3]!) };
}

/** Each triangle becomes four at the middles of its edges; the surface stays where it is. Takes closed meshes. */
export function subdivide(mesh: Mesh): Mesh {
  const { triangles: t, twins } = mesh;
  const middle = new Uint32Array(t.length);
  const count = mesh.vertices.length / 3;
  const vertices = new Float64Array(3 * (count + t.length / 2));
  vertices.set(mesh.vertices);
  let used = count;
  for (let h = 0; h < t.length; h++) {
    if (twins[h]! < h) {
      middle[h] = middle[twins[h]!]!;
      continue;
    }
    for (let c = 0; c < 3; c++) {
      vertices[3 * used + c] =
        (mesh.vertices[3 * t[h]! + c]! + mesh.vertices[3 * t[next(h)]! + c]!) / 2;
    }
    middle[h] = used++;
  }
  const triangles = new Uint32Array(4 * t.length);
  for (let h = 0, o = 0; h < t.length; h += 3, o += 12) {
    const [a, b, c] = [t[h]!, t[h + 1]!, t[h + 2]!];
    const [ab, bc, ca] = [middle[h]!, middle[h + 1]!, middle[h + 2]!];
    triangles.set([a, ab, ca, b, bc, ab, c, ca, bc, ab, bc, ca], o);
  }
  return meshFrom(vertices, triangles);
}
