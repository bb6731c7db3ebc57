/**
 * STEP files written by hand as ISO 10303-21, -42 and -203 say, held against closed forms, and files of
 * CAD programs that the kernel's package brings (cax-if: the test rounds of the CAx Implementor Forum).
 */
import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { expect, test } from 'vitest';
import { Fault } from '../../lib/base/fault.js';
import { seeded } from '../../lib/base/random.js';
import { massOf } from '../../lib/mesh/measure.js';
import type { Mesh } from '../../lib/mesh/mesh.js';
import { changed } from '../support/changed.js';
import { codes, read, refused } from './reading.js';
import { StepFile, type StepOptions } from './step-files.js';

const text = (s: string): Uint8Array => new TextEncoder().encode(s);

function one(make: (file: StepFile) => string | readonly string[], options?: StepOptions): string {
  const file = new StepFile(options);
  file.product('part', [make(file)].flat());
  return file.toString();
}

const BOX = one((f) => f.box([0, 0, 0], [10, 20, 30]));
const volume = (mesh: Mesh): number => massOf(mesh).volume;

/** Greatest distance from a surface of corners, edges and insides of the triangles. */
function farthest({ vertices, triangles }: Mesh, distance: (p: number[]) => number): number {
  let most = 0;
  for (let t = 0; t < triangles.length; t += 3) {
    for (let i = 0; i <= 4; i++) {
      for (let j = 0; i + j <= 4; j++) {
        const shares = [i / 4, j / 4, 1 - (i + j) / 4];
        const p = [0, 1, 2].map((c) =>
          shares.reduce((sum, s, k) => sum + s * vertices[3 * triangles[t + k]! + c]!, 0),
        );
        most = Math.max(most, Math.abs(distance(p)));
      }
    }
  }
  return most;
}

test.each([203, 214, 242] as const)('a box of application protocol %i', (protocol) => {
  const part = read(text(one((f) => f.box([1, 2, 3], [10, 20, 30]), { protocol })));
  expect(part.format).toBe('step');
  expect(part.healed).toEqual([]);
  expect(part.mesh.triangles).toHaveLength(36);
  expect(volume(part.mesh)).toBeCloseTo(6000, 9);
});

test.each([
  ['inch', 25.4],
  ['metre', 1000],
] as const)('a box in %s is read in millimetres', (unit, mm) => {
  const { mesh } = read(text(one((f) => f.box([0, 0, 0], [0.5, 1, 0.25]), { unit })));
  expect(Math.max(...mesh.vertices)).toBeCloseTo(mm, 9);
  expect(volume(mesh) / mm ** 3).toBeCloseTo(0.125, 9);
});

test('a file without a unit says so', () => {
  const part = read(text(one((f) => f.box([0, 0, 0], [1, 2, 3]), { unit: 'none' })));
  expect(codes(part)).toEqual(['step/no-unit']);
  expect(volume(part.mesh)).toBeCloseTo(6, 9);
});

test.each([0.1, 0.01])('a cylinder stays within %f mm', (deviation) => {
  const { mesh } = read(text(one((f) => f.cylinder(10, 20))), { deviation });
  const side = ([x, y, z]: number[]): number =>
    z! < 1e-6 || z! > 20 - 1e-6 ? 0 : Math.hypot(x!, y!) - 10;
  expect(farthest(mesh, side)).toBeLessThanOrEqual(deviation);
  // Between the cylinder and the one that lies the deviation within.
  expect(volume(mesh)).toBeLessThan(Math.PI * 10 ** 2 * 20);
  expect(volume(mesh)).toBeGreaterThan(Math.PI * (10 - deviation) ** 2 * 20);
});

test('a torus stays within 0.05 mm, and within 0.01 where nothing is said', () => {
  const file = text(one((f) => f.torus(6, 2)));
  const surface = ([x, y, z]: number[]): number => Math.hypot(Math.hypot(x!, y!) - 6, z!) - 2;
  // Volume 2 pi^2 R r^2 (Pappus).
  const pappus = (r: number): number => 2 * Math.PI ** 2 * 6 * r ** 2;
  for (const deviation of [0.05, undefined]) {
    const { mesh } = read(file, deviation === undefined ? {} : { deviation });
    const most = deviation ?? 0.01;
    expect(farthest(mesh, surface)).toBeLessThanOrEqual(most);
    expect(volume(mesh)).toBeLessThan(pappus(2 + most));
    expect(volume(mesh)).toBeGreaterThan(pappus(2 - most));
  }
});

/** A block of 10 x 20 x 30 twice: as it is, and turned a third about a diagonal (x to y to z), at x 50. */
function pair(): StepFile {
  const file = new StepFile();
  const block = file.product('block', [file.box([0, 0, 0], [10, 20, 30])]);
  const from = file.placement([0, 0, 0]);
  const turned = file.placement([50, 0, 0], [1, 0, 0], [0, 1, 0]);
  file.assembly('pair', [
    { of: block, at: { from, to: file.placement([0, 0, 0]) } },
    { of: block, at: { from, to: turned } },
  ]);
  return file;
}

test('an assembly places its parts', () => {
  const { mesh, healed } = read(pair().bytes());
  expect(healed).toEqual([]);
  expect(volume(mesh)).toBeCloseTo(12_000, 8);
  const most = [0, 1, 2].map((c) => Math.max(...mesh.vertices.filter((_, i) => i % 3 === c)));
  // Length 10 along y, 20 along z, 30 along x.
  [80, 20, 30].forEach((x, c) => expect(most[c]).toBeCloseTo(x, 9));
});

test('solids that overlap are united', () => {
  const two = one((f) => [f.box([0, 0, 0], [10, 10, 10]), f.box([5, 0, 0], [10, 10, 10])]);
  const part = read(text(two));
  expect(volume(part.mesh)).toBeCloseTo(1500, 2);
});

test('a void in a solid stays', () => {
  const hollow = one((f) => {
    const void_ = f.add(
      `ORIENTED_CLOSED_SHELL('',*,${f.shell(f.boxFaces([2, 2, 2], [3, 3, 3]))},.F.)`,
    );
    const outside = f.shell(f.boxFaces([0, 0, 0], [10, 10, 10]));
    return f.add(`BREP_WITH_VOIDS('hollow',${outside},(${void_}))`);
  });
  expect(volume(read(text(hollow)).mesh)).toBeCloseTo(1000 - 27, 9);
});

const surfaces = (faces: (f: StepFile) => string[], kind: string): string =>
  one((f) => f.add(`SHELL_BASED_SURFACE_MODEL('',(${f.shell(faces(f), kind)}))`));
const sides = (f: StepFile): string[] => f.boxFaces([0, 0, 0], [10, 10, 10]);

test('a shell that bounds a solid is one, an open one is refused by name', () => {
  expect(volume(read(text(surfaces(sides, 'CLOSED_SHELL'))).mesh)).toBeCloseTo(1000, 9);
  const open = refused(text(surfaces((f) => sides(f).slice(1), 'OPEN_SHELL')));
  expect(open.code).toBe('mesh/open-edges');
  expect(open.message).toMatch(/^body "part": 4 open edges in 1 hole[^\n]*$/);
});

const nothing = one((f) => f.placement([0, 0, 0]));
const external = one((f) => {
  f.add("DOCUMENT_FILE('../../valve.stp','','',$,'',$)");
  return f.placement([0, 0, 0]);
});

test.each([
  ['half of it', BOX.slice(0, BOX.length / 2), 'step/no-end'],
  ['an instance that is not there', BOX.replace(/#40=[^;]*;\n/, ''), 'step/reference'],
  ['no solid', nothing, 'step/no-solid'],
  ['no data', BOX.replace(/DATA;[^]*ENDSEC;/, 'DATA;\nENDSEC;'), 'step/unreadable'],
  ['parts in other files', external, 'step/external'],
  ['instances of other files', BOX.replace(/=PLANE/, '=<../a.stp#1>;#9999=PLANE'), 'step/external'],
  ['a syntax of its own', BOX.replace(/EDGE_LOOP\(''/g, 'EDGE_LOOP(('), 'step/unreadable'],
  ['a body of 3 km', one((f) => f.box([0, 0, 0], [3e6, 1, 1])), 'step/too-large'],
  ['nothing but its name', 'ISO-10303-21;', 'step/no-end'],
])('refused in one line: %s', (_, file, code) => {
  const fault = refused(text(file));
  expect(fault.code).toBe(code);
  expect(fault.message).toMatch(/^[\x20-\x7e]+$/);
  expect(fault.at?.file).toBe('part');
});

/** Assemblies of two of the one before: 2^n blocks. */
function nested(n: number, loop = false): string {
  const file = new StepFile();
  const from = file.placement([0, 0, 0]);
  let part = file.product('block', [file.box([0, 0, 0], [1, 1, 1])]);
  const first = part;
  for (let i = 0; i < n; i++) {
    const at = [0, 1].map((k) => ({ from, to: file.placement([2 ** (i + 1) * k, 0, 0]) }));
    part = file.assembly(`level ${i}`, [
      { of: part, at: at[0]! },
      { of: part, at: at[1]! },
    ]);
  }
  if (loop)
    file.add(`NEXT_ASSEMBLY_USAGE_OCCURRENCE('','','',${first.definition},${part.definition},$)`);
  return file.toString();
}

test('assemblies are counted before they are placed', () => {
  expect(volume(read(text(nested(3))).mesh)).toBeCloseTo(8, 9);
  expect(refused(text(nested(40))).code).toBe('step/too-large');
  expect(refused(text(nested(2, true))).code).toBe('step/too-large');
});

test('changed at random a file ends in a part or in a Fault (seeds 1 to 20)', () => {
  const file = new StepFile();
  file.product('part', [file.cylinder(5, 4)]);
  for (let seed = 1; seed <= 20; seed++) {
    const bytes = changed(file.bytes(), seeded(seed));
    try {
      expect(volume(read(bytes, { deviation: 0.1 }).mesh), `seed ${seed}`).toBeGreaterThan(0);
    } catch (error) {
      expect(error, `seed ${seed}`).toBeInstanceOf(Fault);
      expect((error as Fault).message).not.toMatch(/\n/);
    }
  }
});

test('a unit beside the file is refused, for it states its own', () => {
  expect(refused(text(BOX), { unit: 'inch' }).code).toBe('mesh/unit');
});

const sample = (name: string): Uint8Array =>
  readFileSync(
    fileURLToPath(
      new URL(`../../node_modules/occt-import-js/test/testfiles/${name}`, import.meta.url),
    ),
  );

test.each(['mm', 'in', 'm'])('a cube of 1 m, as a CAD program writes it in %s', (unit) => {
  // The package's own test holds each against sides of 1 m.
  const { mesh } = read(sample(`cube-units/cube-${unit}.step`));
  expect(volume(mesh) / 1000 ** 3).toBeCloseTo(1, 6);
});

test('an assembly whose parts lie beside it is refused with their names', () => {
  const fault = refused(sample('cax-if/s1-c5-214/FOOT.stp'));
  expect(fault.code).toBe('step/external');
  expect(fault.message).toContain('"FOOT_FRONT_000.stp", "FOOT_BACK_000.stp"');
});
