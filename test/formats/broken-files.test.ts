/**
 * Every file of the package stl-models that is broken on purpose, and its odd but sound ones: refused
 * with a code, or read with a finding. The reasons were seen by opening the files; what each is meant
 * to show is in the package's README.
 */
import { readdirSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { loadSolidKernel } from '../../lib/kernel/solid.js';
import { massOf } from '../../lib/mesh/measure.js';
import { packageFile } from '../support/open-meshes.js';
import { codes, read, refused } from './reading.js';

interface Expected {
  readonly why: string;
  /** Code of the Fault. */
  readonly fault?: string;
  /** Codes of the findings when it is read. */
  readonly findings?: string[];
  /** mm3 when it is read. */
  readonly volume?: number;
}

const SIXTH = 1 / 6;

const BROKEN: Record<string, Expected> = {
  'empty.stl': { why: '0 bytes', fault: 'mesh/empty-file' },
  'fourVertices.ascii.stl': {
    why: 'the first facet lists the origin as a fourth vertex',
    fault: 'stl/facet-vertices',
  },
  'incorrectFaceCounter.bin.stl': {
    why: 'the count says 66, the 284 bytes hold 4 facets',
    fault: 'stl/wrong-size',
  },
  'missingEndsolid.ascii.stl': {
    why: 'four whole facets, then the end of the file: nothing tells that no facet is missing',
    fault: 'stl/no-end',
  },
  'missingFace.ascii.stl': {
    why: 'three of four facets; the hole is 0.866 of 1.5 mm2 of surface, too much to guess',
    fault: 'mesh/open-edges',
  },
  'missingNormal.ascii.stl': {
    why: '"facet normal" without numbers; the order of the vertices is right',
    findings: ['stl/normal-missing'],
    volume: SIXTH,
  },
  'notANumberNormal.ascii.stl': {
    why: 'the second normal is NaN NaN NaN; the order of the vertices is right',
    findings: ['stl/normal-missing'],
    volume: SIXTH,
  },
  'quad.ascii.stl': { why: 'the first facet has four vertices', fault: 'stl/facet-vertices' },
  'singleFace.ascii.stl': { why: 'one facet encloses nothing', fault: 'mesh/open-edges' },
  'solidNameMismatch.ascii.stl': {
    why: '"solid tetrahedron" ends as "endsolid anything but tetrahedron"; the shape is whole',
    findings: ['stl/name-mismatch'],
    volume: SIXTH,
  },
  'twoVertices.ascii.stl': { why: 'the first facet has two vertices', fault: 'stl/facet-vertices' },
  'wrongHeader.bin.stl': {
    why: 'a binary cube of 100 mm whose header begins with "solid"; its size tells',
    findings: [],
    volume: 1e6,
  },
  'wrongNormal.ascii.stl': {
    why: 'the last normal is 0 0 -1 where the vertices face (1 1 1)',
    findings: ['stl/normal-against'],
    volume: SIXTH,
  },
  'wrongNormals.ascii.stl': {
    why: 'all four normals are 0 0 0',
    findings: ['stl/normal-missing'],
    volume: SIXTH,
  },
};

const MISC: Record<string, Expected> = {
  'faceless.ascii.stl': { why: 'solid, endsolid, nothing between', fault: 'mesh/no-facets' },
  'multiWordName.ascii.stl': { why: 'a name of six words', findings: [], volume: SIXTH },
  'multiWordName.bin.stl': {
    why: 'bytes above 127 were turned into EF BF BD by a text tool: 333 bytes, not 284',
    fault: 'stl/wrong-size',
  },
  'namelessSolid.ascii.stl': { why: '"solid" without a name', findings: [], volume: SIXTH },
};

describe.each([
  ['broken', BROKEN],
  ['misc', MISC],
])('stl-models/%s', (folder, expected) => {
  it('is listed here whole', () => {
    const url = new URL(`../../node_modules/stl-models/${folder}`, import.meta.url);
    expect(Object.keys(expected).sort()).toEqual(readdirSync(url).sort());
  });

  it.each(Object.entries(expected))('%s', (name, { fault, findings, volume }) => {
    const bytes = packageFile(`stl-models/${folder}/${name}`);
    if (fault !== undefined) {
      const thrown = refused(bytes);
      expect(thrown.code).toBe(fault);
      expect(thrown.message).toMatch(/\d/);
      expect(thrown.message).not.toContain('\n');
      return;
    }
    const part = read(bytes);
    expect(codes(part)).toEqual(findings);
    expect(massOf(part.mesh).volume / volume!).toBeCloseTo(1, 9);
  });
});

describe('stl-models/polytopes', () => {
  it.each(['cube', 'tetrahedron', 'tetrahedronIrregular'])(
    '%s is the same part from ASCII and binary',
    (name) => {
      const ascii = read(packageFile(`stl-models/polytopes/${name}.ascii.stl`)).mesh;
      const binary = read(packageFile(`stl-models/polytopes/${name}.bin.stl`)).mesh;
      expect(ascii.triangles.length).toBe(binary.triangles.length);
      expect(massOf(ascii).volume).toBeCloseTo(massOf(binary).volume, 6);
    },
  );

  it('joins 0 and -0, so that the tetrahedron of mixed zeros is closed', () => {
    const part = read(packageFile('stl-models/polytopes/tetrahedronMinusZero.bin.stl'));
    expect(part.mesh.vertices.length / 3).toBe(4);
    expect(part.mesh.twins.includes(-1)).toBe(false);
  });

  it.each(['triangle.ascii.stl', 'triangle.bin.stl'])('%s is one facet and refused', (name) => {
    expect(refused(packageFile(`stl-models/polytopes/${name}`)).code).toBe('mesh/open-edges');
  });
});

describe('stl-models/objects', () => {
  it('the bunny of 69,451 facets has 223 open edges in five holes, which are filled and named', () => {
    const part = read(packageFile('stl-models/objects/bunny.bin.stl'));
    expect(codes(part)).toEqual(Array(5).fill('mesh/hole-filled'));
    const edges = part.healed.map((f) => Number(/of (\d+) edges/.exec(f.message)![1]));
    expect(edges.reduce((a, b) => a + b)).toBe(223);
    expect(part.healed.every((f) => f.at?.point?.every(Number.isFinite))).toBe(true);
    expect(part.mesh.twins.includes(-1)).toBe(false);
  });

  it('is refused with the number of open edges where healing is off', () => {
    const fault = refused(packageFile('stl-models/objects/bunny.bin.stl'), { heal: false });
    expect([fault.code, fault.message]).toEqual([
      'mesh/open-edges',
      expect.stringContaining('223') as string,
    ]);
  });

  it.each(['bunny', 'gearwheel'])('%s is the same part from ASCII and binary', (name) => {
    const ascii = read(packageFile(`stl-models/objects/${name}.ascii.stl`)).mesh;
    const binary = read(packageFile(`stl-models/objects/${name}.bin.stl`)).mesh;
    expect(ascii.triangles.length).toBe(binary.triangles.length);
    // The ASCII files carry seven digits.
    expect(massOf(ascii).volume / massOf(binary).volume).toBeCloseTo(1, 6);
  });
});

describe('node-stl', () => {
  const kernel = loadSolidKernel();

  it.each([
    ['002.STL', 40, 1],
    ['RasPiCaseLight.stl', 248, 0],
    ['WALLY_1plate.stl', 382, 3],
    ['Pterosaur_FDM.stl', 201284, 0],
  ])(
    '%s is closed, %i facets, genus %i, and the solid kernel measures the same volume',
    async (name, facets, genus) => {
      const { mesh } = read(packageFile(`node-stl/test/test_data/${name}`));
      expect(mesh.triangles.length / 3).toBe(facets);
      const judged = (await kernel).judge(mesh);
      expect(judged).toMatchObject({ accepted: true, genus });
      // The kernel holds float32.
      expect(judged.volume / massOf(mesh).volume).toBeCloseTo(1, 6);
    },
  );
});
