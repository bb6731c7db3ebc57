/**
 * Pictures of the beads as the program lays them, as a square PNG with a transparent background, such
 * as a preview coloured by region. Beads are strips that face the viewer, shaded as if they were round,
 * drawn into a depth buffer of twice the size; no browser is needed.
 */
import { encode } from 'fast-png';
import { type Vec3, along, cross, dot, sub, unit } from '../base/vector.js';
import { type Trace, TraceKind } from '../verify/trace.js';
import { regionColour } from '../draw/palette.js';
import { type Colour, type Viewport, type OrthographicView, viewFrom } from '../draw/raster.js';

const BEADS_SIZE = 640;
const OVERSAMPLING = 2;
/** From where the part is seen. */
const EYE: Vec3 = [-0.55, -1, 0.55];
/** Beads are drawn at least so wide that neighbours leave no slit, mm. */
const LEAST_WIDTH = 0.1;

export const preview = (trace: Trace, regionOfRun: readonly number[]): Uint8Array =>
  beadsImage(trace, (b) => regionColour(regionOfRun[trace.run[b]!] ?? 0), EYE, BEADS_SIZE);

/**
 * @param colourOf called for the blocks that lay material, in order
 * @param size of the picture's sides, pixels
 */
export function beadsImage(
  trace: Trace,
  colourOf: (block: number) => Colour,
  eye: Vec3,
  size: number,
): Uint8Array {
  const view = viewFrom(eye);
  const fit = fitTo(trace, view, size);
  const n = size * OVERSAMPLING;
  const canvas: Canvas = {
    n,
    depth: new Float32Array(n * n).fill(-Infinity),
    colour: new Uint8Array(3 * n * n),
  };
  for (let b = 1; b < trace.time.length; b++) {
    if (trace.kind[b] === TraceKind.deposit) drawBead(canvas, trace, b, view, fit, colourOf(b));
  }
  return encode({ width: size, height: size, data: averaged(canvas, size), channels: 4, depth: 8 });
}

interface Canvas {
  readonly n: number;
  readonly depth: Float32Array;
  readonly colour: Uint8Array;
}

const at = (packed: Float64Array, b: number): Vec3 => [
  packed[3 * b]!,
  packed[3 * b + 1]!,
  packed[3 * b + 2]!,
];

/** Scale and centre at which all beads fill the picture. */
function fitTo(trace: Trace, view: OrthographicView, size: number): Viewport {
  let [left, right, low, high] = [Infinity, -Infinity, Infinity, -Infinity];
  for (let b = 0; b < trace.time.length; b++) {
    if (trace.kind[b] !== TraceKind.deposit) continue;
    const p = at(trace.tip, b);
    const [u, v] = [dot(p, view.right), dot(p, view.up)];
    left = Math.min(left, u);
    right = Math.max(right, u);
    low = Math.min(low, v);
    high = Math.max(high, v);
  }
  if (!(left <= right)) return { size: size * OVERSAMPLING, scale: 1, centre: [0, 0, 0] };
  const [u, v] = [(left + right) / 2, (low + high) / 2];
  const centre = [0, 1, 2].map((c) => u * view.right[c]! + v * view.up[c]!) as unknown as Vec3;
  const scale = (0.92 * size * OVERSAMPLING) / Math.max(right - left, high - low, 1);
  return { size: size * OVERSAMPLING, scale, centre };
}

/** Half the width of the round bead that holds as much. */
function radiusOf({ volume, length }: Trace, b: number): number {
  const area = length[b]! > 0 ? volume[b]! / length[b]! : 0;
  return Math.max(LEAST_WIDTH, Math.sqrt(area / Math.PI));
}

function drawBead(
  canvas: Canvas,
  trace: Trace,
  b: number,
  view: OrthographicView,
  fit: Viewport,
  colour: Colour,
): void {
  const radius = radiusOf(trace, b);
  const from = at(trace.tip, b - 1);
  const to = at(trace.tip, b);
  const way = unit(sub(to, from));
  const side = cross(way, view.eye);
  // A bead seen end on has no side: any will do.
  const across = Math.hypot(...side) > 1e-6 ? unit(side) : view.right;
  const facing = cross(across, way);
  const towards = dot(facing, view.eye) >= 0 ? 1 : -1;
  const place = (p: Vec3): Vec3 => [
    fit.size / 2 + (dot(p, view.right) - dot(fit.centre, view.right)) * fit.scale,
    fit.size / 2 - (dot(p, view.up) - dot(fit.centre, view.up)) * fit.scale,
    dot(p, view.eye),
  ];
  const bands = Array.from({ length: BANDS + 1 }, (_, i) => {
    const u = (2 * i) / BANDS - 1;
    const lift = Math.sqrt(Math.max(0, 1 - u * u)) * towards;
    const normal = [0, 1, 2].map((c) => across[c]! * u + facing[c]! * lift) as unknown as Vec3;
    return shade(colour, normal, view, u);
  });
  inPieces(place(from), place(to), (a, b) => strip(canvas, a, b, radius * fit.scale, bands));
}

/** Light from over the viewer's left shoulder and a little from the sky. */
function shade(colour: readonly number[], normal: Vec3, view: OrthographicView, u: number): Vec3 {
  const key = Math.max(
    0,
    -0.4 * dot(normal, view.right) + 0.6 * dot(normal, view.up) + 0.69 * dot(normal, view.eye),
  );
  const sky = 0.5 + 0.5 * normal[2];
  const light = (0.36 + 0.16 * sky + 0.54 * key) * (1 - 0.22 * u * u);
  return colour.map((c) => Math.min(255, c * light)) as unknown as Vec3;
}

/** Steps across a bead for which the shade is worked out. */
const BANDS = 8;

/** Longest piece drawn at once, pixels: the box around a long slanting bead holds little of it. */
const LONGEST_STROKE = 14;

function inPieces(a: Vec3, b: Vec3, each: (from: Vec3, to: Vec3) => void): void {
  const count = Math.max(1, Math.ceil(Math.hypot(b[0] - a[0], b[1] - a[1]) / LONGEST_STROKE));
  const on = (i: number): Vec3 => along(a, sub(b, a), i / count);
  for (let i = 0; i < count; i++) each(on(i), on(i + 1));
}

/** Pixels within `half` of the segment from a to b, coloured by how far across they lie. */
function strip(
  { n, depth, colour }: Canvas,
  a: Vec3,
  b: Vec3,
  half: number,
  bands: readonly Vec3[],
): void {
  const [dx, dy] = [b[0] - a[0], b[1] - a[1]];
  const long = Math.hypot(dx, dy);
  const x0 = Math.max(0, Math.floor(Math.min(a[0], b[0]) - half));
  const x1 = Math.min(n - 1, Math.ceil(Math.max(a[0], b[0]) + half));
  const y0 = Math.max(0, Math.floor(Math.min(a[1], b[1]) - half));
  const y1 = Math.min(n - 1, Math.ceil(Math.max(a[1], b[1]) + half));
  const [ex, ey] = long > 1e-9 ? [dx / long, dy / long] : [1, 0];
  const within = half * half;
  for (let y = y0; y <= y1; y++) {
    for (let x = x0; x <= x1; x++) {
      const px = x + 0.5 - a[0];
      const py = y + 0.5 - a[1];
      const t = Math.max(0, Math.min(long, px * ex + py * ey));
      const rx = px - t * ex;
      const ry = py - t * ey;
      if (rx * rx + ry * ry > within) continue;
      const u = Math.max(-1, Math.min(1, (py * ex - px * ey) / half));
      const share = long > 1e-9 ? t / long : 0;
      // The middle of a round bead stands nearer to the viewer than its edges.
      const z = a[2] + (b[2] - a[2]) * share + Math.sqrt(1 - u * u) * 0.1;
      const i = y * n + x;
      if (z <= depth[i]!) continue;
      depth[i] = z;
      const c = bands[Math.round(((u + 1) / 2) * BANDS)]!;
      colour[3 * i] = c[0];
      colour[3 * i + 1] = c[1];
      colour[3 * i + 2] = c[2];
    }
  }
}

function averaged({ n, depth, colour }: Canvas, size: number): Uint8Array {
  const out = new Uint8Array(4 * size * size);
  for (let y = 0; y < size; y++) {
    for (let x = 0; x < size; x++) {
      const sum = [0, 0, 0];
      let covered = 0;
      for (let k = 0; k < OVERSAMPLING * OVERSAMPLING; k++) {
        const i =
          (y * OVERSAMPLING + Math.floor(k / OVERSAMPLING)) * n +
          x * OVERSAMPLING +
          (k % OVERSAMPLING);
        if (depth[i] === -Infinity) continue;
        covered++;
        for (let c = 0; c < 3; c++) sum[c]! += colour[3 * i + c]!;
      }
      const o = 4 * (y * size + x);
      for (let c = 0; c < 3; c++) out[o + c] = covered ? sum[c]! / covered : 0;
      out[o + 3] = (255 * covered) / (OVERSAMPLING * OVERSAMPLING);
    }
  }
  return out;
}
