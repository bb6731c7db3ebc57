/**
 * What hangs of beads, by the plan and by the check, on beads laid by hand whose figures follow from their
 * geometry alone. Sections are rectangles of width W and height H; the plan's beads are told with round
 * flanks, H (1 - pi / 4) wider at the same area.
 */
import { describe, expect, it } from 'vitest';
import type { Mesh } from '../../../lib/base/mesh.js';
import type { Vec3 } from '../../../lib/base/vector.js';
import { identity } from '../../../lib/base/frame.js';
import { loadPolygonKernel } from '../../../lib/kernel/polygon.js';
import { flatMap, toPart } from '../../../lib/layers/layer-map.js';
import { LowerIndex, lowerBeads } from '../../../lib/paths/hanging/beads-below.js';
import { verify } from '../../../lib/verify/verify.js';
import { cuboid, upright } from '../../support/shapes.js';
import { Pen, printer } from '../../verify/prints.js';
import { type Loop, layersOf, plan, rectangle } from '../flat.js';
import { H, W, type Way, hangingAlone, pathsOf } from './by-hand.js';

const sum = (values: readonly { readonly mm2: number }[]): number =>
  values.reduce((all, { mm2 }) => all + mm2, 0);

/** What hangs of two layers on the table, by the plan and by the check. */
function bothSides(
  layers: readonly (readonly Way[])[],
  sections: readonly Loop[][],
  part: Mesh,
): [number, number] {
  const planned = hangingAlone(layers, sections);
  const pen = new Pen();
  layers.forEach((ways, k) => {
    for (const way of ways) {
      const at = ([x, y]: readonly [number, number]): Vec3 => [x, y, (k + 1) * H];
      pen.move(at(way[0]!));
      for (const p of way.slice(1)) pen.lay(at(p), W, H);
    }
  });
  pen.move([0, 0, 20]);
  const { inAir } = verify(pen.text(), printer(), { part, bridge: 0 });
  return [sum(planned), sum(inAir)];
}

describe('a bead that is laid beside the one below', () => {
  // Its outer flank is off + W / 2 away, the material below ends at W / 2, and at 45 deg H more is carried.
  // Laid the other way round, what is beyond lies on the other side of the bead: the same.
  it.each(
    [0.1, 0.19, 0.3, 0.35, 0.45].flatMap((off) => [
      [off, 10],
      [off, -10],
    ]),
  )('%f mm off hangs by what is beyond the angle, laid towards %i', (off, to) => {
    const along = (x: number): Way => [
      [x, -to],
      [x, to],
    ];
    const step = upright(
      [
        [-W / 2, 0],
        [W / 2, 0],
        [W / 2, H],
        [off + W / 2, H],
        [off + W / 2, 2 * H],
        [-W / 2, 2 * H],
      ],
      20,
    );
    const sections = [[rectangle(-W / 2, -10, W, 20)], [rectangle(-W / 2, -10, W + off, 20)]];
    for (const mm2 of bothSides([[along(0)], [along(off)]], sections, step)) {
      expect(mm2).toBeCloseTo(20 * Math.max(0, off - H), 1);
    }
  });
});

describe('a bead over two beads of fill, 6 mm apart', () => {
  const fill: Way[] = [0, 6].map((x): Way => [
    [x, -10],
    [x, 10],
  ]);
  const section = [rectangle(-5, -12, 16, 24)];
  const part = cuboid([16, 24, 4], [3, 0, 0]);
  const laid = (way: Way): [number, number] => bothSides([fill, [way]], [section, section], part);

  it('is a bridge where it runs straight from one to the other', () => {
    const straight: Way = [
      [0, 0],
      [6, 0],
    ];
    expect(laid(straight)).toEqual([0, 0]);
  });

  it('hangs as a whole between them where it turns, as planned and as read back', () => {
    const bent: Way = [
      [0, -5],
      [3, -5],
      [3, 5],
      [0, 5],
    ];
    // Carried up to the flank of the bead below, found to a piece of half a millimetre at either end.
    const length = 2 * (3 - W / 2) + 10;
    for (const mm2 of laid(bent)) {
      expect(mm2).toBeGreaterThan((length - 1) * W);
      expect(mm2).toBeLessThan((length + 1) * W);
    }
  });

  it('hangs where it ends between them', () => {
    const open: Way = [
      [0, 0],
      [3, 0],
    ];
    for (const mm2 of laid(open)) {
      expect(mm2).toBeGreaterThan((3 - W / 2 - 0.5) * W);
      expect(mm2).toBeLessThan((3 - W / 2 + 0.5) * W);
    }
  });
});

describe('a bead over fill that turns 5 mm from the fill', () => {
  // A bead of fill below at x = 0, and the outer bead of both layers at x = 6. The one above it is carried.
  const along = (x: number): Way => [
    [x, -10],
    [x, 10],
  ];
  const section = [rectangle(-5, -12, 11 + W / 2, 24)];
  const part = cuboid([11 + W / 2, 24, 4], [(1 + W / 2) / 2, 0, 0]);
  const turning = (x: number): Way => [
    [0, 0],
    [x, 0],
    [x, W],
    [0, W],
  ];
  const laid = (x: number, outer: boolean): [number, number] =>
    bothSides(
      [
        [along(0), along(6)],
        [...(outer ? [along(6)] : []), turning(x)],
      ],
      [section, section],
      part,
    );

  it('is held where it turns against the outer bead of its layer', () => {
    expect(laid(6 - W, true)).toEqual([0, 0]);
  });

  it('hangs where it turns short of it, and where there is none to turn against', () => {
    for (const [x, outer] of [
      [5, true],
      [6 - W, false],
    ] as const) {
      const length = 2 * (x - W / 2) + W;
      for (const mm2 of laid(x, outer)) {
        expect(mm2).toBeGreaterThan((length - 1) * W);
        expect(mm2).toBeLessThan((length + 1) * W);
      }
    }
  });

  it('hangs where it lies against a bead that is a bridge there itself', () => {
    // From the bead of fill to the outer bead, and beside it one that turns half way.
    const across: Way = [
      [0, 0],
      [6, 0],
    ];
    const short: Way = [
      [0, W],
      [3, W],
      [3, 2 * W],
      [0, 2 * W],
    ];
    const length = 2 * (3 - W / 2) + W;
    const found = bothSides(
      [
        [along(0), along(6)],
        [across, short],
      ],
      [section, section],
      part,
    );
    for (const mm2 of found) {
      expect(mm2).toBeGreaterThan((length - 1) * W);
      expect(mm2).toBeLessThan((length + 1) * W);
    }
  });
});

describe('beads of an earlier region', () => {
  it('are found where they stand: a bead along X built along +X turned by a quarter', () => {
    // Built along +X: its upper side looks along +X of the part, so it fills H below its tip along X.
    const map = flatMap([1, 0, 0]);
    const paths = pathsOf([
      [
        [
          [-3, 0],
          [3, 0],
        ],
      ],
    ]);
    const room = { least: [-9, -9, -9], most: [9, 9, 9] };
    const beads = new LowerIndex(lowerBeads([{ layers: { map }, paths }], identity(), room));
    const at = (u: number, v: number, up: number): boolean =>
      beads.holds(...toPart(map, [u, v, H + up]));
    for (const u of [-2.9, 0, 2.9]) {
      expect(at(u, 0, -H / 2)).toBe(true);
      expect(at(u, W / 2 - 0.01, -0.01)).toBe(true);
      expect(at(u, W / 2 + 0.02, -0.01)).toBe(false);
      expect(at(u, 0, 0.01)).toBe(false);
      expect(at(u, 0, -H - 0.01)).toBe(false);
    }
    expect(at(3 + W / 2 + 0.02, 0, -H / 2)).toBe(false);
  });
});

describe('the layers under an interface', () => {
  it('are closed two deep where another region stands on them, and nowhere else', async () => {
    const kernel = await loadPolygonKernel();
    const whole = [rectangle(0, 0, 30, 20)];
    const rows = Array.from({ length: 12 }, () => whole);
    const beyond = Array.from({ length: 8 }, () => whole);
    const layers = layersOf(rows, { beneath: beyond, over: beyond });
    // Nothing is exposed: the part goes on over and under the region.
    expect([...plan(layers, {}, kernel).figures.cap]).toEqual(new Array(12).fill(0));
    const { cap, fill } = plan(layers, {}, kernel, false, true).figures;
    expect([...cap].map((mm2) => mm2 > 0)).toEqual([...new Array(10).fill(false), true, true]);
    for (const k of [10, 11]) expect(fill[k]! / (cap[k]! + fill[k]!)).toBeLessThan(1e-6);
  });
});
