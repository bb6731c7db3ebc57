/**
 * Curved layers judged from a trace alone, on sheets that are cylinders: which beads are of one sheet, how far the head
 * leans from their normal, how much filament beads get beside those under them, and what of it is a fault. Expected values are
 * those with which the sheets are drawn.
 */
import { describe, expect, test } from 'vitest';
import type { Finding } from '../../lib/base/fault.js';
import { DEG } from '../../lib/base/vector.js';
import { judgeTurning } from '../../lib/verify/judge-turning.js';
import { heightsOf } from '../../lib/verify/layers.js';
import type { Print } from '../../lib/verify/print.js';
import { checkRules } from '../../lib/verify/rules.js';
import { Tally } from '../../lib/verify/tally.js';
import { leansOf } from '../../lib/verify/turning-lean.js';
import { sectionsOf } from '../../lib/verify/turning-sections.js';
import { sheetsOf } from '../../lib/verify/turning-sheets.js';
import { H, R, W, arc, openSheet, sheet, traceOfBlocks } from './cylinders.js';
import type { Block } from './traces.js';

const BORE = 0.4;

function looked(blocks: readonly Block[]) {
  const trace = traceOfBlocks([0, 0, R + 5], blocks);
  const heights = heightsOf(trace, BORE);
  const { height } = heights;
  const turned = heights.turned!;
  const sheets = sheetsOf(trace, height, turned);
  const radius = (b: number): number => Math.hypot(trace.tip[3 * b]!, trace.tip[3 * b + 2]!);
  const drawn = (b: number): number => Math.round((radius(b) - R) / H);
  return { trace, heights, height, turned, sheets, drawn };
}

const findings = (blocks: readonly Block[]): Finding[] => {
  const { trace, heights } = looked(blocks);
  const tally = new Tally();
  judgeTurning(trace, { heights } as Print, checkRules.parse({}), tally);
  return tally.findings();
};

const told = (blocks: readonly Block[]): string[] => [
  ...new Set(findings(blocks).map((f) => f.code)),
];

const sound = [0, 1, 2, 3, 4].flatMap((k) => sheet(k));

describe('sheets', () => {
  test('are numbered as they are drawn, also where one is left out', () => {
    for (const numbers of [
      [0, 1, 2, 3],
      [0, 1, 3, 4],
    ]) {
      const { sheets, drawn } = looked(numbers.flatMap((k) => sheet(k)));
      let asked = 0;
      sheets.forEach((n, b) => {
        if (n === 0) return;
        expect(n).toBe(1 + drawn(b));
        asked++;
      });
      expect(asked).toBe(4 * 5 * 30);
    }
  });
});

describe('sheets of which each begins beside those under it, with nothing below', () => {
  // Each reaches one bead farther out than the one before, and that bead is laid first or last.
  const beads = (k: number): Block[][] =>
    Array.from({ length: 5 + k }, (_, n) => arc(R + k * H, (n - k) * W, 1000 * k + 100 * n));
  test.each(['first', 'last'])('are numbered as they are drawn, the outer bead %s', (when) => {
    const order = (k: number): Block[] => {
      const [outer, ...others] = beads(k);
      return (when === 'first' ? [outer!, ...others] : [...others.reverse(), outer!]).flat();
    };
    const { sheets, drawn } = looked([0, 1, 2, 3, 4].flatMap(order));
    let asked = 0;
    sheets.forEach((n, b) => {
      if (n === 0) return;
      expect(n).toBe(1 + drawn(b));
      asked++;
    });
    expect(asked).toBe((5 + 6 + 7 + 8 + 9) * 30);
  });
});

describe('the lean of the head', () => {
  test.each([
    [0, 0],
    [12, 0],
    [0, 14],
    [0, -14],
    [5, 9],
  ])('is %f deg along and %f deg across, as drawn', (along, across) => {
    const lean = { along: along * DEG, across: across * DEG };
    const { trace, turned, sheets, drawn } = looked(
      [0, 1, 2, 3].flatMap((k) => sheet(k, W * H, lean)),
    );
    // The first arc of each sheet has only those of the sheet under it beside it, which are askew there.
    const places = leansOf(trace, sheets, turned).filter(
      ({ block }) => drawn(block) > 0 && Math.abs(trace.tip[3 * block + 1]!) > W / 2,
    );
    expect(places.length).toBeGreaterThan(60);
    for (const place of places) {
      const total = Math.hypot(place.along, place.across) / DEG;
      expect(Math.abs(total - Math.hypot(along, across))).toBeLessThan(2);
    }
  });
});

test('beads with 1.6 times the filament have 1.6 times the section of those under them', () => {
  const blocks = [0, 1, 2, 3, 4].flatMap((k) => sheet(k, k === 2 ? 1.6 * W * H : W * H));
  const { trace, height, turned, sheets, drawn } = looked(blocks);
  const places = sectionsOf(trace, height, sheets, turned);
  const of = (k: number): number[] =>
    places.filter(({ block }) => drawn(block) === k).map((p) => p.share);
  // What lies on the table is as high as the table lets it be, so nothing is said of what lies over it.
  expect(of(1)).toEqual([]);
  expect(of(2).length).toBeGreaterThan(100);
  for (const share of of(2)) expect(share).toBeCloseTo(1.6, 1);
  for (const share of of(3)) expect(share).toBeCloseTo(1 / 1.6, 1);
  for (const share of of(4)) expect(share).toBeCloseTo(1, 1);
});

describe('faults', () => {
  test('none in sound sheets', () => {
    expect(told(sound)).toEqual([]);
  });

  test('none where the first bead of a sheet lies over a gap in the one below', () => {
    // Of the third sheet the first of five arcs is not there: the fourth begins two thicknesses over what is.
    const blocks = [0, 1, 2, 3, 4].flatMap((k) => (k === 2 ? sheet(k).slice(31) : sheet(k)));
    expect(told(blocks)).toEqual([]);
    const { sheets, drawn } = looked(blocks);
    sheets.forEach((n, b) => n > 0 && expect(n).toBe(1 + drawn(b)));
  });

  test('a sheet left out', () => {
    expect(told([0, 1, 3, 4].flatMap((k) => sheet(k)))).toEqual(['verify/level-step']);
  });

  test.each([2.1, 0.5])('%f times the filament in a sheet', (factor) => {
    const blocks = [0, 1, 2, 3].flatMap((k) => sheet(k, k === 2 ? factor * W * H : W * H));
    expect(told(blocks)).toEqual(['verify/layer-flow']);
  });

  test.each([1, 2.1, 0.5])('%f times the filament in a sheet of open fill', (factor) => {
    const blocks = [0, 1, 2, 3, 4, 5].flatMap((k) =>
      openSheet(k, k === 4 ? factor * W * H : W * H),
    );
    expect(told(blocks)).toEqual(factor === 1 ? [] : ['verify/layer-flow']);
  });

  test.each([
    [{ across: 35 * DEG }, 'error'],
    [{ along: 35 * DEG }, 'error'],
    [{ across: 14 * DEG }, 'warning'],
    [{ across: 7 * DEG }, undefined],
  ])('a lean of %o: %s', (lean, severity) => {
    const blocks = [0, 1, 2, 3, 4].flatMap((k) => sheet(k, W * H, k > 1 ? lean : {}));
    const found = findings(blocks).filter((f) => f.code === 'verify/head-leans');
    expect(found.map((f) => f.severity).includes('error')).toBe(severity === 'error');
    expect(found.length > 0).toBe(severity !== undefined);
  });
});
