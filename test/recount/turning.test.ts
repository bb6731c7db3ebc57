/**
 * The pieces by which beads are recounted whose head turns, against closed forms: a table that turns under
 * a tip that stands still, sheets that are cylinders about an axis under the table, beads that lie so far
 * beside one another.
 */
import { describe, expect, test } from 'vitest';
import { acJson } from '../machine/machines.js';
import { type Beads, beadsOf } from './beads.js';
import type { File, Vec } from './chain.js';
import { countHanging } from './hanging.js';
import { findHeights } from './heights.js';
import { type Moves, readMoves } from './program.js';
import { Sheets } from './sheets.js';
import { type Facets, Solid, shapeOf, volumeOf } from './shape.js';

const file = acJson() as unknown as File;
const DEG = Math.PI / 180;
const WIRE = (Math.PI / 4) * file.filament.diameter ** 2;

describe('beads from a text', () => {
  const laid = (text: string): Beads =>
    beadsOf(file, readMoves(`G94\nG1 X20 Z10 F600\n(region 1, layer 1 of 1)\n${text}`, file));

  test('the table turns by 90 deg under a tip 20 mm from its axis: an arc of 10 pi, bowed by R (1 - cos 45)', () => {
    const { tip, length, volume, bow } = laid('G93 C90 E2 F2');
    expect(length.reduce((a, b) => a + b)).toBeCloseTo(10 * Math.PI, 2);
    expect(volume.reduce((a, b) => a + b)).toBeCloseTo(2 * WIRE, 9);
    expect(bow).toBeCloseTo(20 * (1 - Math.SQRT1_2), 2);
    for (let i = 0; i < tip.length; i += 3)
      expect(Math.hypot(tip[i]!, tip[i + 1]!)).toBeCloseTo(20);
    // No piece leaves its arc by more than the chord error: s^2 / 8 R.
    for (const s of length) expect(s ** 2 / 160).toBeLessThan(0.002);
  });

  test('the table tilts by 30 deg while the tip moves: the axis of each piece turns as far as its share', () => {
    const { up, length } = laid('G93 X30 A30 E1 F2');
    const tilt = (i: number): number => Math.acos(up[3 * i + 2]!) / DEG;
    const count = 2 * length.length;
    expect([tilt(0), tilt(count - 1)].map((a) => Math.round(1e6 * a) / 1e6)).toEqual([0, 30]);
    for (let i = 0; i + 1 < length.length; i++) expect(tilt(2 * i + 1)).toBe(tilt(2 * i + 2));
    for (let i = 0; i < length.length; i++) expect(tilt(2 * i + 1) - tilt(2 * i)).toBeLessThan(1.2);
  });
});

/** Sheets of radius R + k H about the y axis 20 mm under the table, beads along arcs of 30 deg. */
const R = 20;
const H = 0.2;
const W = 0.4;
const STEP = 0.5 * DEG;

interface Arc {
  readonly r: number;
  readonly y: number;
  readonly layer: number;
  readonly section?: number;
  /** How far the head is turned from the radius, rad. */
  readonly lean?: number;
}

/** Arcs as a record of beads, and what the marks of their text would say. */
function arcs(list: readonly Arc[]): { beads: Beads; moves: Moves } {
  const [tip, up, length, volume] = [0, 1, 2, 3].map((): number[] => []) as number[][];
  const [block, layer] = [[] as number[], [] as number[]];
  let b = 0;
  for (const { r, y, layer: k, section = W * H, lean = 0 } of list) {
    // Blocks with a gap between them are beads of their own.
    b += 2;
    for (let n = -30; n < 30; n++) {
      const ends = [n * STEP, (n + 1) * STEP];
      for (const a of ends) {
        tip!.push(r * Math.sin(a), y, r * Math.cos(a));
        up!.push(Math.sin(a + lean), 0, Math.cos(a + lean));
      }
      const size = 2 * r * Math.sin(STEP / 2);
      length!.push(size);
      volume!.push(section * size);
      block.push(b);
      layer[b] = k;
      b++;
    }
  }
  const count = block.length;
  const beads: Beads = {
    count,
    tip: Float64Array.from(tip!),
    up: Float64Array.from(up!),
    length: Float64Array.from(length!),
    volume: Float64Array.from(volume!),
    block: Uint32Array.from(block),
    height: new Float64Array(count),
    bow: 0,
  };
  const moves = {
    region: new Uint16Array(b).fill(1),
    layer: Uint16Array.from({ length: b }, (_, i) => layer[i] ?? 0),
    line: Uint32Array.from({ length: b }, (_, i) => i + 1),
  } as unknown as Moves;
  return { beads, moves };
}

const sheet = (k: number, lean = 0): Arc[] =>
  [-2, -1, 0, 1, 2].map((n) => ({ r: R + k * H, y: n * W, layer: k, lean }));

describe('sheets and heights', () => {
  test.each([0, 5, 12])('a head that leans by %f deg: beads are H / cos of it high', (degrees) => {
    const lean = degrees * DEG;
    const { beads, moves } = arcs([1, 2, 3].flatMap((k) => sheet(k, lean)));
    expect([...findHeights(beads, moves)]).toEqual([1]);
    const sheets = new Sheets(beads, moves);
    let asked = 0;
    for (let i = 0; i < beads.count; i++) {
      const b = beads.block[i]!;
      // Away from the ends of the arcs, where the plane is that of one side; the first sheet has none under it.
      const n = (i % 60) - 30;
      if (moves.layer[b] === 1 || Math.abs(n) > 24) continue;
      expect(beads.height[i]!).toBeCloseTo(H / Math.cos(lean), 2);
      const at = [0, 1, 2].map((c) => (beads.tip[6 * i + c]! + beads.tip[6 * i + 3 + c]!) / 2);
      const up = [0, 1, 2].map((c) => beads.up[6 * i + c]!);
      const plane = sheets.plane(1, moves.layer[b]!, at as never as Vec, up as never as Vec)!;
      // Slopes are drawn a little towards none (FLAT).
      expect(Math.abs(plane.lean / DEG - degrees)).toBeLessThan(0.3 + 0.05 * degrees);
      asked++;
    }
    expect(asked).toBeGreaterThan(400);
  });
});

describe('what hangs', () => {
  const everywhere = (): boolean => true;
  const nowhere = (): boolean => false;
  const LENGTH = (r: number): number => 60 * 2 * r * Math.sin(STEP / 2);

  test.each([0, 0.1, 0.15, 0.25, 0.35])(
    'one bead %f mm beside the one under it: what lies farther out than its height',
    (aside) => {
      for (const y of [aside, -aside]) {
        const { beads, moves } = arcs([
          { r: R, y: 0, layer: 1 },
          { r: R + H, y, layer: 2 },
        ]);
        beads.height.fill(H);
        const { places } = countHanging(beads, moves, nowhere, nowhere, 0);
        // The first one lies on nothing and hangs as a whole.
        const of = (layer: number): number =>
          places.reduce((sum, p) => sum + (moves.layer[p.line - 1] === layer ? p.mm2 : 0), 0);
        expect(of(1)).toBeCloseTo(LENGTH(R) * W, 1);
        const wide = Math.max(0, aside + W / 2 - (W / 2 + H));
        // To a place across, a sixteenth of the width.
        expect(Math.abs(of(2) - LENGTH(R + H) * wide)).toBeLessThan((LENGTH(R) * W) / 16);
      }
    },
  );

  test.each([
    [6, true],
    [9, true],
    [14, false],
  ])('straight over a gap of %f mm of the fill: carried is %s', (gap, carried) => {
    // Two arcs under it, a bead across from the one to the other.
    const { beads, moves } = arcs([
      { r: R, y: -gap / 2 - W / 2, layer: 1 },
      { r: R, y: gap / 2 + W / 2, layer: 1 },
    ]);
    const n = beads.count;
    const size = gap + 2 * W;
    const all: Beads = {
      ...beads,
      count: n + 1,
      tip: Float64Array.from([...beads.tip, 0, -size / 2, R + H, 0, size / 2, R + H]),
      up: Float64Array.from([...beads.up, 0, 0, 1, 0, 0, 1]),
      length: Float64Array.from([...beads.length, size]),
      volume: Float64Array.from([...beads.volume, W * H * size]),
      block: Uint32Array.from([...beads.block, moves.layer.length]),
      height: new Float64Array(n + 1).fill(H),
    };
    const told = {
      ...moves,
      region: new Uint16Array(moves.region.length + 1).fill(1),
      layer: Uint16Array.from([...moves.layer, 2]),
      line: Uint32Array.from([...moves.line, 9999]),
    };
    const { places } = countHanging(all, told, everywhere, nowhere, 0);
    const mm2 = places.filter((p) => p.line === 9999).reduce((sum, p) => sum + p.mm2, 0);
    if (carried) expect(mm2).toBe(0);
    // The gap, to a piece at either end.
    else expect(Math.abs(mm2 - gap * W)).toBeLessThan(4 * 0.2 * W);
  });

  test('on the table nothing hangs, and beside its face all does', () => {
    const { beads, moves } = arcs([{ r: R, y: 0, layer: 1 }]);
    const flat: Beads = {
      ...beads,
      tip: beads.tip.map((v, i) => (i % 3 === 2 ? H : v)),
      up: beads.up.map((_, i) => (i % 3 === 2 ? 1 : 0)),
      height: beads.height.map(() => H),
    };
    expect(countHanging(flat, moves, nowhere, everywhere, 0).open).toBe(0);
    expect(countHanging(flat, moves, nowhere, nowhere, 0).open).toBeGreaterThan(1);
  });
});

describe('shape', () => {
  const boxOf = ([x, y, z]: Vec, [a, b, c]: Vec): Facets => {
    const at = (i: number): Vec => [i & 1 ? a : x, i & 2 ? b : y, i & 4 ? c : z];
    // prettier-ignore
    return ([
      [0, 2, 1], [1, 2, 3], [4, 5, 6], [5, 7, 6], [0, 1, 4], [1, 5, 4],
      [2, 6, 3], [3, 6, 7], [0, 4, 2], [2, 4, 6], [1, 3, 5], [3, 7, 5],
    ] as const).map((t) => t.map(at) as never as Facets[number]);
  };
  /** One straight bead 10 mm along x, its stadium 0.5 mm wide and 0.2 mm high, the tip at z = 1. */
  const bead: Beads = {
    count: 1,
    tip: Float64Array.of(0, 0, 1, 10, 0, 1),
    up: Float64Array.of(0, 0, 1, 0, 0, 1),
    length: Float64Array.of(10),
    volume: Float64Array.of(10 * (0.3 * 0.2 + Math.PI * 0.01)),
    block: Uint32Array.of(0),
    height: Float64Array.of(0.2),
    bow: 0,
  };

  test('the volume of a box', () => {
    expect(volumeOf(boxOf([1, 2, 3], [4, 6, 8]))).toBeCloseTo(60, 9);
  });

  test('distances to a stadium: over it, beside it, aside of its end, inside', () => {
    const solid = new Solid(bead);
    expect(solid.distance([5, 0, 1.3])).toBeCloseTo(0.3, 9);
    expect(solid.distance([5, 0.65, 0.9])).toBeCloseTo(0.4, 9);
    // 3, 4, 5: from the middle of the round flank.
    expect(solid.distance([5, 0.15 + 0.3, 0.9 + 0.4])).toBeCloseTo(0.4, 9);
    expect(solid.distance([10.4, 0, 0.9])).toBeCloseTo(0.3, 9);
    expect(solid.distance([5, 0, 0.95])).toBeCloseTo(-0.05, 9);
  });

  test('a face 0.3 mm over the bead lacks 0.3 mm, one 0.05 mm in it has 0.05 mm too much', () => {
    const top = (z: number): number => {
      // The middle half of the bead's upper side alone.
      const facets = boxOf([2, -0.1, 0.9], [8, 0.1, z]).slice(2, 4);
      const { mean, p95 } = shapeOf(bead, facets, 0);
      expect(p95).toBeCloseTo(Math.abs(mean), 1);
      return mean;
    };
    expect(top(1.3)).toBeCloseTo(-0.3, 6);
    expect(top(0.95)).toBeCloseTo(0.05, 1);
  });
});
