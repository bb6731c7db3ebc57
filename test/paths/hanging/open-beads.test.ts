/**
 * What of straight beads hangs in the open, where the part has nothing below: all that is farther from the
 * beads below than the self-supporting angle reaches, by fine sampling. The count goes by pieces of half a
 * millimetre, which end up to a quarter of one off where they cross what holds them: hence the tolerance.
 */
import { describe, expect, it } from 'vitest';
import { seeded } from '../../../lib/base/random.js';
import { beadSpacing } from '../../../lib/paths/bead.js';
import { hangingBeads } from '../../../lib/paths/hanging/planned-beads.js';
import type { Paths } from '../../../lib/paths/paths.js';
import { type Loop, layersOf, rectangle } from '../flat.js';

const [WIDTH, HEIGHT] = [0.5, 0.2];
const half = beadSpacing(WIDTH, HEIGHT) / 2;
type Bead = readonly [x0: number, y0: number, x1: number, y1: number];

function pathsOf(layers: readonly (readonly Bead[])[]): Paths {
  const beads = layers.flatMap((list, layer) => list.map((bead) => ({ bead, layer })));
  const points = beads.flatMap(({ bead: [a, b, c, d], layer }) => [a, b, (layer + 1) * HEIGHT, c, d, (layer + 1) * HEIGHT]); // prettier-ignore
  const n = beads.length;
  return {
    points: Float64Array.from(points),
    width: new Float64Array(2 * n).fill(WIDTH),
    height: new Float64Array(2 * n).fill(HEIGHT),
    start: Uint32Array.from({ length: n + 1 }, (_, i) => 2 * i),
    kind: new Uint8Array(n),
    layer: Uint32Array.from(beads, ({ layer }) => layer),
    flowFactor: new Float64Array(n).fill(1),
    link: new Uint8Array(n),
    linkPoints: new Float64Array(0),
    linkStart: new Uint32Array(n + 1),
  };
}

const hanging = (
  beads: readonly (readonly Bead[])[],
  rule: { theta?: number; bridge?: number; onTable?: boolean; around?: readonly Loop[][] } = {},
) =>
  // prettier-ignore
  hangingBeads({
    region: 4,
    layers: layersOf(beads.map(() => [rectangle(0, 0, 1, 1)]), { height: HEIGHT, around: rule.around ?? beads.map(() => []) }), // prettier-ignore
    paths: pathsOf(beads),
    lower: new Float64Array(0),
    open: new Uint8Array(beads.length).fill(1),
    onTable: rule.onTable ?? true,
    theta: rule.theta ?? Math.PI / 4,
    bridge: rule.bridge ?? 0,
  });

/** Distance of a place from the flank of a bead, negative inside. */
function gap([x0, y0, x1, y1]: Bead, x: number, y: number): number {
  const [dx, dy] = [x1 - x0, y1 - y0];
  const t = Math.min(1, Math.max(0, ((x - x0) * dx + (y - y0) * dy) / (dx * dx + dy * dy)));
  return Math.hypot(x - x0 - t * dx, y - y0 - t * dy) - half;
}

/** mm2 of a bead that lie farther than `reach` from all beads below. */
function beyond([x0, y0, x1, y1]: Bead, below: readonly Bead[], reach: number): number {
  const length = Math.hypot(x1 - x0, y1 - y0);
  const [tx, ty] = [(x1 - x0) / length, (y1 - y0) / length];
  const [along, across] = [400, 40];
  let count = 0;
  for (let i = 0; i < along; i++) {
    for (let k = 0; k < across; k++) {
      const s = ((i + 0.5) / along) * length;
      const off = (2 * ((k + 0.5) / across) - 1) * half;
      const [x, y] = [x0 + s * tx - off * ty, y0 + s * ty + off * tx];
      if (below.every((b) => gap(b, x, y) > reach)) count++;
    }
  }
  return (count / along / across) * length * 2 * half;
}

describe('beads over beads', () => {
  it.each([1, 2, 3, 4])('hang by what is beyond the angle (seed %i)', (seed) => {
    const random = seeded(seed);
    const theta = [0.6, 0.8, 1, 1.2][seed - 1]!;
    const reach = HEIGHT * Math.tan(theta);
    const bead = (): Bead => {
      const [x, y, a] = [12 * random(), 12 * random(), 7 * random()];
      return [x, y, x + 8 * Math.cos(a), y + 8 * Math.sin(a)];
    };
    for (let n = 0; n < 12; n++) {
      const below = Array.from({ length: 1 + (n % 2) }, bead);
      // One anywhere, one beside a bead below so that half of it is held, one on it.
      const [x0, y0, x1, y1] = below[0]!;
      const off = 0.3 * random();
      const [nx, ny] = [-(y1 - y0) / 8, (x1 - x0) / 8];
      const above: Bead[] = [bead(), [x0 + off * nx, y0 + off * ny, x1 + off * nx, y1 + off * ny], below[0]!]; // prettier-ignore
      const places = hanging([below, above], { theta });
      const want = above.map((b) => beyond(b, below, reach));
      expect(places.every((p) => p.layer === 1 && p.region === 4 && p.overFillMm2 === 0)).toBe(
        true,
      );
      const total = want.reduce((a, b) => a + b, 0);
      const found = places.reduce((a, p) => a + p.mm2, 0);
      expect(Math.abs(found - total)).toBeLessThan(
        0.02 * total + 0.1 + 0.05 * Math.sqrt(3 * below.length),
      );
      for (const p of places) {
        expect(above.some((b) => gap(b, p.point[0], p.point[1]) < 1e-6)).toBe(true);
        expect(p.point[2]).toBeCloseTo(2 * HEIGHT, 12);
        // Where it hangs, nothing is below.
        expect(Math.max(...below.map((b) => -gap(b, p.point[0], p.point[1])))).toBeLessThan(half);
      }
    }
  });

  it('the first layer lies on the table, or hangs whole', () => {
    const beads: Bead[] = [[0, 0, 9, 0], [3, 5, 3, 1]]; // prettier-ignore
    expect(hanging([beads])).toEqual([]);
    const places = hanging([beads], { onTable: false });
    expect(places.map((p) => p.mm2)).toEqual([
      expect.closeTo(9 * 2 * half, 6),
      expect.closeTo(4 * 2 * half, 6),
    ]);
  });

  it('two layers up nothing but the layer below counts', () => {
    const bead: Bead = [0, 0, 9, 0];
    expect(hanging([[bead], [], [bead]]).map((p) => p.layer)).toEqual([2]);
    expect(hanging([[bead], [bead], [bead]])).toEqual([]);
  });

  it('a gap between two held ends is a bridge, up to the longest span', () => {
    const posts: Bead[] = [[0, -2, 0, 2], [8, -2, 8, 2]]; // prettier-ignore
    const span: Bead = [0, 0, 8, 0];
    expect(hanging([posts, [span]], { bridge: 8 })).toEqual([]);
    const [one] = hanging([posts, [span]], { bridge: 6 });
    // From flank to flank, less what the angle reaches on both sides; pieces of 0.3 mm count whole by their middles.
    expect(Math.abs(one!.mm2 - (8 - 2 * half - 2 * HEIGHT) * 2 * half)).toBeLessThan(
      0.3 * 2 * half,
    );
  });

  it('a stroke that crosses narrow beads lies on each of them, whatever their pitch', () => {
    const solid = [[rectangle(-5, -5, 40, 10)], [rectangle(-5, -5, 40, 10)]];
    for (let pitch = 1.5; pitch < 2.5; pitch += 0.01) {
      const across = Array.from({ length: 8 }, (_, i): Bead => [i * pitch, -2, i * pitch, 2]);
      expect(hanging([across, [[0, 0, 7 * pitch, 0]]], { around: solid })).toEqual([]);
    }
  });

  it('over the inside of the part it is a gap of the fill: up to 10 mm hold', () => {
    const solid = [[rectangle(-5, -5, 40, 10)], [rectangle(-5, -5, 40, 10)]];
    const at = (length: number) => {
      const posts: Bead[] = [[0, -2, 0, 2], [length, -2, length, 2]]; // prettier-ignore
      return hanging([posts, [[0, 0, length, 0]]], { around: solid });
    };
    expect(at(9)).toEqual([]);
    const [one] = at(14);
    expect(one!.overFillMm2).toBeCloseTo(one!.mm2, 9);
    expect(one!.mm2).toBeGreaterThan((14 - 2) * 2 * half);
    expect(one!.mm2).toBeLessThan(14 * WIDTH);
  });
});
