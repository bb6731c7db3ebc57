/** Beads as strips and as tilted boxes, point by point; and which pieces of a bead hang, case by case of the rule. */
import { describe, expect, it } from 'vitest';
import { identity, inverse } from '../../../lib/base/frame.js';
import { seeded } from '../../../lib/base/random.js';
import { type Vec3, along, dot, sub, unit } from '../../../lib/base/vector.js';
import { flatMap } from '../../../lib/layers/layer-map.js';
import { LowerIndex, lowerBeads } from '../../../lib/paths/hanging/beads-below.js';
import { type BeadPiece, hangingPieces } from '../../../lib/paths/hanging/stretches.js';
import { BeadStrips, SLIT } from '../../../lib/paths/hanging/strips.js';
import { boxJob } from '../../motion/jobs.js';

/** Distance of a point from a segment. */
function gap(p: Vec3, a: Vec3, b: Vec3): number {
  const e = sub(b, a);
  const size = dot(e, e);
  const t = size > 0 ? Math.min(1, Math.max(0, dot(sub(p, a), e) / size)) : 0;
  return Math.hypot(...sub(p, along(a, e, t)));
}

describe('strips', () => {
  it.each([1, 2, 3])('have the distance of the nearest flank (seed %i)', (seed) => {
    const random = seeded(seed);
    const strips = new BeadStrips();
    const all: { a: Vec3; b: Vec3; half: number }[] = [];
    for (let n = 0; n < 12 * seed; n++) {
      const some = (): Vec3 => [30 * random() - 15, 30 * random() - 15, 0];
      const a = some();
      const b = n % 5 ? some() : n % 2 ? a : along(a, [1, 0, 0], 3);
      all.push({ a, b, half: 0.2 + 0.3 * random() });
      strips.add(a[0], a[1], b[0], b[1], all[n]!.half);
      // Strips that are added after a query count too.
      if (n % 7 === 0) strips.holds(0, 0);
    }
    for (let i = 0; i < 300; i++) {
      const [x, y] = [36 * random() - 18, 36 * random() - 18];
      const least = Math.min(...all.map(({ a, b, half }) => gap([x, y, 0], a, b) - half));
      const far = 0.5 + 4 * random();
      const found = strips.distance(x, y, far, -Infinity);
      expect(found).toBeCloseTo(Math.min(far, least), 9);
      const enough = strips.distance(x, y, far, 0.3);
      if (least <= 0.3) expect(enough).toBeLessThanOrEqual(0.3);
      else expect(enough).toBeCloseTo(Math.min(far, least), 9);
      if (Math.abs(least - SLIT) > 1e-9) expect(strips.holds(x, y)).toBe(least < SLIT);
    }
    expect(new BeadStrips().distance(0, 0, 3, 0)).toBe(3);
  });
});

describe('beads below', () => {
  it.each([[[0, 0, 1]], [unit([0.5, 0, 1])], [unit([0.3, -0.6, 0.8])]] as const)(
    'hold what lies under their upper side and within their width: built along %j',
    (direction) => {
      const { layers, paths } = boxJob([0, 0, 0], [9, 7, 0.6], direction as Vec3);
      const everywhere = { least: [-99, -99, -99], most: [99, 99, 99] };
      const boxes = lowerBeads([{ layers, paths }], identity(), everywhere);
      const index = new LowerIndex(boxes);
      // Beads of 0.45 x 0.2 mm: area ((0.45 - 0.2) 0.2 + pi 0.2^2 / 4) over the height is the strip's width.
      const half = (0.25 * 0.2 + (Math.PI * 0.04) / 4) / 0.2 / 2;
      const frame = inverse(flatMap(direction as Vec3).layerFromPart);
      const place = ([x, y, z]: Vec3): Vec3 => [0, 1, 2].map((r) => frame[r]! * x + frame[4 + r]! * y + frame[8 + r]! * z + frame[12 + r]!) as never; // prettier-ignore
      const random = seeded(6);
      let held = 0;
      for (let i = 0; i < 600; i++) {
        const q: Vec3 = [11 * random() - 1, 9 * random() - 1, 0.9 * random() - 0.1];
        const edge = { most: -Infinity };
        for (let p = 0; p + 1 < paths.start.length; p++) {
          for (let k = paths.start[p]! + 1; k < paths.start[p + 1]!; k++) {
            const [a, b] = [k - 1, k].map((n) => [paths.points[3 * n]!, paths.points[3 * n + 1]!, paths.points[3 * n + 2]!]) as never as [Vec3, Vec3]; // prettier-ignore
            const down = a[2] - q[2];
            const flat: Vec3 = [q[0], q[1], a[2]];
            // Positive within the box, by the least of its three margins.
            edge.most = Math.max(
              edge.most,
              Math.min(down, 0.2 - down, half + SLIT - gap(flat, a, b)),
            );
          }
        }
        if (Math.abs(edge.most) < 1e-6) continue;
        if (edge.most > 0) held++;
        expect(index.holds(...place(q))).toBe(edge.most > 0);
      }
      expect(held).toBeGreaterThan(30);
      // Of a room only what comes into it: 12 numbers a box, none longer than 2 mm.
      for (let b = 0; b < boxes.length; b += 12) expect(boxes[b + 11]).toBeLessThanOrEqual(2);
      const nowhere = { least: [200, 200, 200], most: [300, 300, 300] };
      expect(lowerBeads([{ layers, paths }], identity(), nowhere)).toHaveLength(0);
    },
  );
});

describe('pieces of a bead of 0.4 mm', () => {
  /** c carried, o in the open, i over the inside, b over the inside against a carried bead; 1 mm each. */
  const straight = (kinds: string): BeadPiece[] => [...kinds].map((kind, k) => piece(kind, k, 0));
  const piece = (kind: string, x: number, y: number): BeadPiece => ({
    x,
    y,
    length: 1,
    width: 0.4,
    carried: kind === 'c',
    beside: kind === 'b',
    air: kind === 'o' ? 0.4 : 0,
    inside: () => kind !== 'o',
  });
  const held = (begin: boolean, end: boolean) => ({ begin: () => begin, end: () => end });
  const hangs = (
    pieces: BeadPiece[],
    loop = false,
    ends = held(false, false),
    bridge = 5,
  ): string =>
    [...hangingPieces(pieces, loop, ends, bridge)].map((mm2) => (mm2 > 0 ? 'x' : '.')).join('');

  it.each([
    // In the open: a stretch between carried places, no longer than the bridge of 5 mm and a width.
    ['coooooc', '.......'],
    ['cooooooc', '.xxxxxx.'],
    ['cooo', '.xxx'],
    ['oooc', 'xxx.'],
    ['ooo', 'xxx'],
    ['cocooooooco', '...xxxxxx.x'],
    // Between beads of fill: 10 mm and a width.
    ['ciiiiiiiiiic', '............'],
    ['ciiiiiiiiiiic', '.xxxxxxxxxxx.'],
    ['ciii', '.xxx'],
    ['iii', 'xxx'],
    // Against a carried bead it is held, and holds what is next to it.
    ['cbbbb', '.....'],
    ['ciibbiic', '........'],
    ['bbbbbbbbbb', '..........'],
    ['bbbbbbbbbbb', 'xxxxxxxxxxx'],
  ])('%s', (kinds, want) => {
    expect(hangs(straight(kinds))).toBe(want);
  });

  it('an open end that runs into a bead of its layer is held there', () => {
    expect(hangs(straight('ooooo'), false, held(true, true))).toBe('.....');
    expect(hangs(straight('ooooo'), false, held(true, false))).toBe('xxxxx');
    expect(hangs(straight('oooc'), false, held(true, false))).toBe('....');
    expect(hangs(straight('cooo'), false, held(false, true))).toBe('....');
    expect(hangs(straight('cooo'), false, held(true, false))).toBe('.xxx');
  });

  it('a loop goes on over its seam', () => {
    expect(hangs(straight('oocccco').map((p, k) => ({ ...p, x: (k + 4) % 7 })), true)).toBe('.......'); // prettier-ignore
    expect(hangs(straight('oocccco').map((p, k) => ({ ...p, x: (k + 4) % 7 })), false)).toBe('xx....x'); // prettier-ignore
    expect(hangs(straight('ooo'), true, held(false, true))).toBe('xxx');
  });

  it('a stretch with a bend is no bridge, one that strays by less than half a width is', () => {
    const bent = (by: number): BeadPiece[] =>
      [...'coooc'].map((kind, k) => piece(kind, k, k === 2 ? by : 0));
    expect(hangs(bent(0.19))).toBe('.....');
    expect(hangs(bent(0.21))).toBe('.xxx.');
    expect(hangs(bent(-0.21))).toBe('.xxx.');
  });

  it('without bridges all in the open hangs, but not over fill', () => {
    expect(hangs(straight('cooc'), false, held(false, false), 0)).toBe('.xx.');
    expect(hangs(straight('ciic'), false, held(false, false), 0)).toBe('....');
  });

  it('counts what is in the open as it is given, and over fill the whole piece', () => {
    const pieces = straight('coi').map((p, k) => (k === 1 ? { ...p, air: 0.13 } : p));
    expect([...hangingPieces(pieces, false, held(false, false), 5)]).toEqual([0, 0.13, 0.4]);
    // What of a carried piece lies in the open hangs too.
    const part = straight('c').map((p) => ({ ...p, air: 0.07 }));
    expect([...hangingPieces(part, false, held(false, false), 5)]).toEqual([0.07]);
  });
});
