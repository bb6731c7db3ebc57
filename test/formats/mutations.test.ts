/**
 * Bytes of sound files changed at random: whatever they become, reading ends in a closed part or in a
 * Fault of one line, never in anything else. Several hundred changed files of each format.
 */
import { describe, expect, it } from 'vitest';
import { Fault } from '../../lib/base/fault.js';
import { seeded } from '../../lib/base/random.js';
import { massOf } from '../../lib/mesh/measure.js';
import { writeGlb } from '../../lib/formats/write-glb.js';
import { writeStl, writeThreeMf } from '../../lib/formats/write-mesh.js';
import type { Mesh } from '../../lib/mesh/mesh.js';
import { changed } from '../support/changed.js';
import { torus } from '../support/shapes.js';
import { asciiStl, boxFacets, boxModel, bytesOf, objText, threeMf } from './files.js';
import { read } from './reading.js';

const two = [...boxFacets([0, 0, 0], [10, 10, 10]), ...boxFacets([5, 5, 5], [10, 10, 10])];

/** Bytes of a mesh as a little-endian PLY file. */
function plyOf({ vertices, triangles }: Mesh): Uint8Array {
  const head = bytesOf(
    `ply\nformat binary_little_endian 1.0\nelement vertex ${vertices.length / 3}\n` +
      'property double x\nproperty double y\nproperty double z\n' +
      `element face ${triangles.length / 3}\nproperty list uchar int vertex_indices\nend_header\n`,
  );
  const bytes = new Uint8Array(head.length + 8 * vertices.length + (13 * triangles.length) / 3);
  bytes.set(head);
  const view = new DataView(bytes.buffer, head.length);
  vertices.forEach((x, i) => view.setFloat64(8 * i, x, true));
  for (let f = 0, at = 8 * vertices.length; f < triangles.length; f += 3, at += 13) {
    view.setUint8(at, 3);
    for (let c = 0; c < 3; c++) view.setInt32(at + 1 + 4 * c, triangles[f + c]!, true);
  }
  return bytes;
}

const FILES: [string, Uint8Array, number][] = [
  ['binary STL', writeStl(torus(20, 5, 12, 8)), 300],
  ['ASCII STL', asciiStl(two), 300],
  ['OBJ', bytesOf(objText(two)), 300],
  ['PLY', plyOf(torus(20, 5, 12, 8)), 300],
  ['GLB', writeGlb([{ name: 'ring', mesh: torus(20, 5, 12, 8) }]), 300],
  ['3MF', writeThreeMf([{ name: 'ring', mesh: torus(20, 5, 12, 8) }]), 200],
  ['stored model', threeMf(boxModel()), 200],
];

/** XML of a model changed at random, packed again, so that the change gets past the checksum. */
const changedModel = (random: () => number): Uint8Array =>
  threeMf(changed(bytesOf(boxModel()), random));

function check(bytes: Uint8Array): 'part' | 'fault' {
  try {
    const { mesh } = read(bytes);
    expect(mesh.twins.includes(-1)).toBe(false);
    expect(massOf(mesh).volume).toBeGreaterThan(0);
    return 'part';
  } catch (error) {
    if (!(error instanceof Fault)) throw error;
    expect(error.code).toMatch(/^[a-z0-9]+\/[a-z0-9-]+$/);
    expect(error.message).not.toMatch(/\n/);
    expect(error.message.length).toBeLessThan(500);
    return 'fault';
  }
}

describe.each(FILES)('%s', (_, bytes, count) => {
  const repack = _ === 'stored model';
  for (let seed = 1; seed <= count; seed += 50) {
    it(`changed at random (seeds ${seed} to ${seed + 49})`, () => {
      const ends = { part: 0, fault: 0 };
      for (let s = seed; s < seed + 50; s++) {
        const random = seeded(s);
        const file = repack ? changedModel(random) : changed(bytes, random);
        try {
          ends[check(file)]++;
        } catch (error) {
          throw new Error(`seed ${s}`, { cause: error });
        }
      }
      // Most changes hurt; if none did, the changes would not reach the reader.
      expect(ends.fault).toBeGreaterThan(10);
    });
  }
});
