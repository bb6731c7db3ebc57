/**
 * What hangs of a straight bead that lies aside of what carries it, in closed form: beads are strips, and of one that
 * is laid `off` aside of an equal one a strip of off - h tan(theta) hangs, all of it from there on where nothing holds
 * it any more.
 */
import { describe, expect, it } from 'vitest';
import { identity } from '../../../lib/base/frame.js';
import { flatMap } from '../../../lib/layers/layer-map.js';
import { lowerBeads } from '../../../lib/paths/hanging/beads-below.js';
import { hangingBeads } from '../../../lib/paths/hanging/planned-beads.js';
import type { Paths } from '../../../lib/paths/paths.js';
import { layersOf, rectangle } from '../flat.js';

const [W, H, LONG] = [0.4, 0.2, 6];

/** One bead along X in each layer from `first` on, so far aside; widths have round flanks at the same area. */
function beads(asides: readonly number[], first = 0): Paths {
  const n = asides.length;
  return {
    points: Float64Array.from(
      asides.flatMap((y, k) => [0, y, (first + k + 1) * H, LONG, y, (first + k + 1) * H]),
    ),
    width: new Float64Array(2 * n).fill(W + H * (1 - Math.PI / 4)),
    height: new Float64Array(2 * n).fill(H),
    start: Uint32Array.from({ length: n + 1 }, (_, i) => 2 * i),
    kind: new Uint8Array(n),
    layer: Uint32Array.from({ length: n }, (_, i) => i),
    flowFactor: new Float64Array(n).fill(1),
    link: new Uint8Array(n),
    linkPoints: new Float64Array(0),
    linkStart: new Uint32Array(n + 1),
  };
}

const section = (y: number): ReturnType<typeof rectangle> =>
  rectangle(0, y - W / 2, LONG, y + W / 2);

interface Asked {
  readonly theta?: number;
  readonly open?: number;
}

/** mm2 of the upper one of two beads on the table. */
function hangs(off: number, { theta = 45, open = 1 }: Asked = {}): number {
  const found = hangingBeads({
    region: 0,
    layers: layersOf([[section(0)], [section(off)]], { height: H }),
    paths: beads([0, off]),
    lower: new Float64Array(0),
    open: new Uint8Array(2).fill(open),
    onTable: true,
    theta: (theta * Math.PI) / 180,
    bridge: 0,
  });
  expect(found.every((f) => f.layer === 1 && f.region === 0)).toBe(true);
  return found.reduce((sum, f) => sum + f.mm2, 0);
}

const strip = (off: number, theta: number): number =>
  LONG * Math.max(0, off - H * Math.tan((theta * Math.PI) / 180));

describe('over a bead of its own region', () => {
  it.each([
    [0, 45],
    [0.1, 45],
    [0.2, 45],
    [0.25, 45],
    [0.3, 45],
    [0.36, 45],
    [0.3, 30],
    [0.3, 50],
    [0.35, 60],
  ])('%d mm aside, on either side, at %d deg', (off, theta) => {
    for (const side of [1, -1]) {
      // Ends are held by the strip below; an edge between two samples is found on a straight line.
      expect(Math.abs(hangs(side * off, { theta }) - strip(off, theta))).toBeLessThan(0.02 * LONG);
    }
  });

  it('hangs as a whole where it touches nothing', () => {
    expect(hangs(1)).toBeCloseTo(LONG * W, 6);
    expect(hangs(-1)).toBeCloseTo(LONG * W, 6);
  });

  it('is not asked about in the open where the sections leave nothing', () => {
    expect(hangs(0.3, { open: 0 })).toBe(0);
  });
});

describe('over a bead of an earlier region', () => {
  const room = { least: [-9, -9, -9], most: [9, 9, 9] } as const;
  const map = flatMap([0, 0, 1]);

  function above(off: number): number {
    // The region begins one layer higher, over nothing of its own.
    const layers = layersOf([[section(off)]], { height: H });
    const found = hangingBeads({
      region: 1,
      layers: { ...layers, top: Float64Array.of(2 * H) },
      paths: beads([off], 1),
      lower: lowerBeads(
        [{ layers: { map }, paths: beads([0]) }],
        identity(),
        room as unknown as Parameters<typeof lowerBeads>[2],
      ),
      open: Uint8Array.of(1),
      onTable: false,
      theta: Math.PI / 4,
      bridge: 0,
    });
    return found.reduce((sum, f) => sum + f.mm2, 0);
  }

  it.each([0, 0.15, 0.25, 0.3, 0.36])('%d mm aside', (off) => {
    for (const side of [1, -1]) {
      // Looked for on a circle of twelve places, within 3.4 % of its radius, and in five halvings.
      const slack = (0.034 * H + (0.4 * W) / 2 / 32 + 0.012) * LONG;
      expect(Math.abs(above(side * off) - strip(off, 45))).toBeLessThan(slack);
    }
  });

  it('hangs as a whole beside it', () => {
    expect(above(1)).toBeCloseTo(LONG * W, 6);
  });
});
