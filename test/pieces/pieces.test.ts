/**
 * The pieces as meshes and as words: closed, of the volume of their closed form (polygon areas times
 * lengths), as large as their pages say, and the pages name keys that the files have.
 */
import { readFileSync } from 'node:fs';
import { beforeAll, describe, expect, it } from 'vitest';
import { DEG, type Vec3, dot } from '../../lib/base/vector.js';
import { type SolidKernel, loadSolidKernel } from '../../lib/kernel/solid.js';
import type { Mesh } from '../../lib/base/mesh.js';
import { readMachine } from '../../lib/machine/read-files.js';
import { type Inspection, inspect } from '../../lib/mesh/repair/inspect.js';
import { bounds } from '../../lib/mesh/measure.js';
import { PIECE_TILT, layoutOf } from '../../lib/pieces/layout.js';
import { leftOut, pageOf, testPieces } from '../../lib/pieces/pieces.js';
import type { TestPiece } from '../../lib/pieces/piece.js';
import { schemaOf } from '../../lib/job/file-schemas.js';

const names = ['table-table-ac', 'table-table-bc', 'head-table'] as const;
const fileOf = (name: string): MachineText =>
  JSON.parse(readFileSync(`samples/machines/${name}.json`, 'utf8')) as MachineText;

interface MachineText {
  head: { joints: { letter: string; kind: string }[] };
  table: { joints: { letter: string; kind: string }[] };
}

let kernel: SolidKernel;
beforeAll(async () => {
  kernel = await loadSolidKernel();
});

const [S, C] = [Math.sin(PIECE_TILT * DEG), Math.cos(PIECE_TILT * DEG)];
/** Area under a roof from -half to half: upright up to `rim`, then slopes up to `flat` either side. */
const gable = (half: number, flat: number, rim: number): number =>
  2 * half * rim + ((half + flat) * (half - flat) * S) / C;
const tab = 6 * 4 * 3;

/** mm3, derived from the sizes that the pages state and the drawings in the sources. */
const volumes: Record<string, number> = {
  // Four rungs of 5 x 6 mm on each slope, as wide as the roof's 14 mm.
  'backlash-ladder': 14 * (gable(34, 2, 4) + 2 * 4 * 5 * 6) + tab,
  // A boss of 14 x 14 x 8 mm on each slope of a roof of 24 mm.
  'axis-cross': 24 * gable(30, 6, 4) + 2 * 14 * 14 * 8 + tab,
  // Foot 20 x 112 x 2, seven piers 4 x 10 x 10, beam 10 x 112 x 2: 84 mm of windows, 28 of piers.
  'bridge-spans': 20 * 112 * 2 + 7 * 4 * 10 * 10 + 10 * 112 * 2,
  // Foot 90 x 18 x 2, tab 5 x 6 x 2, blades 8 wide, 10 high, 2.4 / cos(lean) across.
  'overhang-fan':
    90 * 18 * 2 +
    5 * 6 * 2 +
    [20, 30, 40, 45, 50, 55, 60, 65, 70].reduce(
      (v, a) => v + (8 * 10 * 2.4) / Math.cos(a * DEG),
      0,
    ),
};

describe.each(names)('%s', (name) => {
  const machine = readMachine(fileOf(name));
  const layout = layoutOf(machine);
  let pieces: TestPiece[];
  beforeAll(() => {
    pieces = testPieces(machine, kernel);
  });
  const seen = (mesh: Mesh): Inspection => inspect(mesh);

  it('makes every piece, or says why not', () => {
    const made = pieces.map((p) => p.name);
    const left = leftOut(machine);
    expect([...made, ...left.map((l) => l.name)].sort()).toEqual([
      'axis-cross',
      'backlash-ladder',
      'bridge-spans',
      'overhang-fan',
      'run-out-ring',
    ]);
    expect(left.length).toBe(layout.tilt.carriesTable ? 0 : 1);
    left.forEach(({ why }) => expect(why).toMatch(/parallel/));
  });

  it('each is one closed shell that stands on 60 mm of the table and crosses itself nowhere', () => {
    for (const { mesh, name: piece } of pieces) {
      const { closed, shells, inwardShells, crossing, genus } = seen(mesh);
      expect([piece, closed, shells, inwardShells, crossing.pairs]).toEqual([piece, true, 1, 0, 0]);
      // Windows and bore are handles: six, one, and none in the others.
      expect([piece, genus]).toEqual([piece, { 'bridge-spans': 6, 'run-out-ring': 1 }[piece] ?? 0]);
      expect(bounds(mesh).least[2]).toBeCloseTo(0, 5);
      let far = 0;
      for (let i = 0; i < mesh.vertices.length; i += 3) {
        far = Math.max(far, Math.hypot(mesh.vertices[i]!, mesh.vertices[i + 1]!));
      }
      expect(far).toBeLessThan(60);
    }
  });

  it('each has the volume of its closed form', () => {
    for (const { mesh, name: piece } of pieces) {
      if (piece === 'run-out-ring') continue;
      expect([piece, seen(mesh).volume / volumes[piece]!]).toEqual([piece, expect.closeTo(1, 6)]);
    }
  });

  it('the lugs of the ring end 90 deg apart, alike in height and distance', () => {
    const { mesh } = pieces.find((p) => p.name === 'run-out-ring')!;
    const ends = [0, 1, 2, 3].map((k) => {
      const azimuth = layout.lean - (layout.sense * k * Math.PI) / 2;
      const out: Vec3 = [Math.cos(azimuth), Math.sin(azimuth), 0];
      let [height, far] = [0, 0];
      for (let i = 0; i < mesh.vertices.length; i += 3) {
        const p: Vec3 = [mesh.vertices[i]!, mesh.vertices[i + 1]!, mesh.vertices[i + 2]!];
        if (dot(p, out) < 0.9 * Math.hypot(p[0], p[1])) continue;
        height = Math.max(height, p[2]);
        far = Math.max(far, dot(p, out));
      }
      return { height, far };
    });
    // Rods of 5 mm radius, 34 mm long, from 12 mm out and 4.2 mm up, leaning by 50 deg: their upper
    // rim is highest, their lower rim is farthest out.
    const [s, c] = [Math.sin(50 * DEG), Math.cos(50 * DEG)];
    for (const { height, far } of ends) {
      expect(height).toBeCloseTo(4.2 + 34 * c + 5 * s, 2);
      expect(far).toBeCloseTo(12 + 34 * s + 5 * c, 2);
    }
  });

  it('the pages name keys that the files have, of the joints that they mean', () => {
    const file = fileOf(name);
    let count = 0;
    for (const piece of pieces) {
      const text = pageOf(piece);
      for (const [path, side, index, key] of text.matchAll(
        /\b(head|table)\.joints\[(\d)\]\.(\w+)/g,
      )) {
        const joint = file[side as 'head' | 'table'].joints[Number(index)]!;
        const meant = key === 'runOut' || piece.name === 'run-out-ring' || key === 'axis';
        expect([path, joint.letter]).toEqual([path, (meant ? layout.turn : layout.tilt).letter]);
        expect([path, jointKeys(side!, joint.kind)]).toEqual([path, expect.arrayContaining([key])]);
        count++;
      }
      for (const [path, what] of [
        ['table.normal', 'machine'],
        ['regions.overhang', 'job'],
        ['layers.bridge', 'job'],
        ['nozzleTemperature', 'material'],
        ['fan', 'material'],
      ] as const) {
        if (text.includes(path)) expect([path, has(schemaOf(what), path)]).toEqual([path, true]);
      }
    }
    expect(count).toBeGreaterThan(2);
    expect(pageOf(pieces.find((p) => p.name === 'overhang-fan')!)).toContain('regions.overhang');
    expect(pageOf(pieces.find((p) => p.name === 'bridge-spans')!)).toContain('layers.bridge');
  });
});

type Schema = {
  properties?: Record<string, Schema>;
  items?: Schema;
  anyOf?: Schema[];
  oneOf?: Schema[];
  const?: string;
};

/** Whether a JSON Schema has a property at the end of a path. */
const has = (schema: Schema, path: string): boolean => {
  const [first, ...rest] = path.split('.') as [string, ...string[]];
  const next = schema.properties?.[first];
  return next !== undefined && (rest.length === 0 || has(next, rest.join('.')));
};

function jointKeys(side: string, kind: string): string[] {
  const machine = schemaOf('machine') as Schema;
  const items = machine.properties![side]!.properties!['joints']!.items!;
  const kinds = items.anyOf ?? items.oneOf ?? [items];
  const own = kinds.find((k) => k.properties!['kind']!.const === kind)!;
  return Object.keys(own.properties!);
}
