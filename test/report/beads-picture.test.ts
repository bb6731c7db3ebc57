/** Pictures of beads: what shows is what is nearest to the eye, whatever the order of the program. */
import { decode } from 'fast-png';
import { expect, test } from 'vitest';
import { seeded } from '../../lib/base/random.js';
import { type Vec3, cross, dot, unit } from '../../lib/base/vector.js';
import type { Colour } from '../../lib/draw/raster.js';
import { beadsImage } from '../../lib/report/beads-picture.js';
import { TraceKind } from '../../lib/verify/trace.js';

interface Bead {
  readonly from: Vec3;
  readonly to: Vec3;
  readonly radius: number;
  readonly colour: Colour;
}

const EYE: Vec3 = [-0.5, -1, 0.7];
const SIZE = 120;
/** Pixels before averaging, in each direction. */
const FINE = 2 * SIZE;

/** Shading changes how light these are, not which channels are dark. */
const COLOURS: readonly Colour[] = [1, 2, 3, 4, 5, 6, 7].map((k) => [
  200 * (k & 1),
  100 * (k & 2),
  50 * (k & 4),
]);

function picture(beads: readonly Bead[]): Uint8Array {
  const area = ({ radius }: Bead): number => Math.PI * radius * radius;
  const reach = ({ from, to }: Bead): number => Math.hypot(...from.map((c, i) => c - to[i]!));
  const png = beadsImage(
    {
      kind: Uint8Array.from(beads.flatMap(() => [TraceKind.link, TraceKind.deposit])),
      tip: Float64Array.from(beads.flatMap(({ from, to }) => [...from, ...to])),
      length: Float64Array.from(beads.flatMap((bead) => [1, reach(bead)])),
      volume: Float64Array.from(beads.flatMap((bead) => [0, area(bead) * reach(bead)])),
    },
    (block) => beads[(block - 1) / 2]!.colour,
    EYE,
    SIZE,
  );
  return Uint8Array.from(decode(png).data);
}

/**
 * What each fine pixel shows, by looking at every bead for every pixel: the colour of the nearest,
 * `none` where there is no bead, undefined where two colours are too near to each other to tell.
 */
function shown(beads: readonly Bead[]): (Colour | 'none' | undefined)[] {
  const eye = unit(EYE);
  const right = unit(cross([0, 0, 1], eye));
  const up = cross(eye, right);
  const flat = beads.map(({ from, to, radius, colour }) => {
    const [p, q] = [from, to].map((v): Vec3 => [dot(v, right), dot(v, up), dot(v, eye)]);
    return { p: p!, q: q!, radius, colour };
  });
  // The ends of the beads fill 92 % of the picture.
  const [u, v] = [0, 1].map((c) => {
    const ends = flat.map(({ q }) => q[c]!);
    return { least: Math.min(...ends), most: Math.max(...ends) };
  });
  const mm = Math.max(u!.most - u!.least, v!.most - v!.least) / (0.92 * FINE);
  return Array.from({ length: FINE * FINE }, (_, i) => {
    const x = (u!.least + u!.most) / 2 + ((i % FINE) + 0.5 - FINE / 2) * mm;
    const y = (v!.least + v!.most) / 2 - (Math.floor(i / FINE) + 0.5 - FINE / 2) * mm;
    return nearest(flat, x, y);
  });
}

function nearest(
  flat: readonly { p: Vec3; q: Vec3; radius: number; colour: Colour }[],
  x: number,
  y: number,
): Colour | 'none' | undefined {
  const covering: { colour: Colour; least: number; most: number }[] = [];
  for (const { p, q, radius, colour } of flat) {
    const [dx, dy] = [q[0] - p[0], q[1] - p[1]];
    const share = (t: number): number => Math.max(0, Math.min(1, t));
    const depth = (t: number): number => p[2] + share(t) * (q[2] - p[2]);
    const t = share(((x - p[0]) * dx + (y - p[1]) * dy) / (dx * dx + dy * dy));
    const away = Math.hypot(x - p[0] - t * dx, y - p[1] - t * dy);
    if (Math.abs(away - radius) < 1e-9) return undefined;
    if (away > radius) continue;
    // Beads are round, and drawn in pieces with round ends: they may stand nearer than their middle
    // line by 0.1 mm, and as near as it is a radius further on.
    const on = radius / Math.hypot(dx, dy);
    const most = 0.1 + Math.max(depth(t), depth(t - on), depth(t + on));
    covering.push({ colour, least: depth(t), most });
  }
  if (covering.length === 0) return 'none';
  const first = covering.reduce((a, b) => (b.least > a.least ? b : a));
  const near = covering.filter(({ most }) => most >= first.least);
  return near.every(({ colour }) => colour === first.colour) ? first.colour : undefined;
}

/** A heap of beads in a box of 40 mm: mostly short ones, behind and through long ones at any slant. */
function heap(random: () => number, count: number): Bead[] {
  const place = (): Vec3 => [40 * random(), 40 * random(), 40 * random()];
  return Array.from({ length: count }, (_, i) => {
    const [from, far] = [place(), place()];
    const share = i % 4 === 0 ? 1 : 0.01 + 0.1 * random();
    const to = from.map((c, k) => c + share * (far[k]! - c)) as unknown as Vec3;
    return { from, to, radius: 0.15 + 2 * random() ** 2, colour: COLOURS[i % 7]! };
  });
}

test('nearer beads hide farther ones, in whatever order they are laid, seed 3', () => {
  const random = seeded(3);
  const beads = heap(random, 700);
  const expected = shown(beads);
  for (const order of [beads, beads.toReversed(), beads.toSorted(() => random() - 0.5)]) {
    const data = picture(order);
    const wrong: string[] = [];
    let looked = 0;
    for (let i = 0; i < SIZE * SIZE; i++) {
      const at = 2 * FINE * Math.floor(i / SIZE) + 2 * (i % SIZE);
      const colour = expected[at];
      if ([at, at + 1, at + FINE, at + FINE + 1].some((k) => expected[k] !== colour)) continue;
      if (colour === undefined) continue;
      looked++;
      const wanted = colour === 'none' ? [0, 0, 0, 0] : [...colour, 255];
      if (wanted.some((c, k) => c > 0 !== data[4 * i + k]! > 0)) {
        wrong.push(`pixel ${i % SIZE}, ${Math.floor(i / SIZE)}`);
      }
    }
    expect(wrong).toEqual([]);
    expect(looked).toBeGreaterThan(0.4 * SIZE * SIZE);
  }
});
