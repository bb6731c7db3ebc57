/**
 * Rasteriser of coloured meshes in an orthographic view: depth buffer, flat shading, drawn at twice the
 * size and averaged down. The background stays transparent. Time grows with triangles plus covered
 * pixels.
 */
import { type Vec3, cross, dot, unit } from '../base/vector.js';
import type { Mesh } from '../base/mesh.js';

export type Colour = readonly [number, number, number];

export interface PaintedMesh {
  readonly mesh: Mesh;
  readonly colour: Colour;
  /** Triangles that are hatched dark, one flag each; for what hangs unsupported. */
  readonly hatched?: Uint8Array;
  /** Triangles that are left out, one flag each; for faces inside the part. */
  readonly hidden?: Uint8Array;
  /** A value a vertex; dark lines are drawn where it is a whole number. */
  readonly level?: Float64Array;
}

/** An orthographic view: right and up on the picture, and towards the eye; unit vectors, part frame. */
export interface OrthographicView {
  readonly right: Vec3;
  readonly up: Vec3;
  readonly eye: Vec3;
}

/** A view from the direction `eye`, with part Z upwards on the picture. */
export function viewFrom(eye: Vec3): OrthographicView {
  const e = unit(eye);
  const upish: Vec3 = Math.abs(e[2]) > 0.99 ? [0, 1, 0] : [0, 0, 1];
  const right = unit(cross(upish, e));
  return { right, up: cross(e, right), eye: e };
}

/** Where a scene point falls: pixel = (middle + x scale, middle - y scale). */
export interface Viewport {
  readonly size: number;
  readonly scale: number;
  readonly centre: Vec3;
}

export function project(p: Vec3, view: OrthographicView, fit: Viewport): readonly [number, number] {
  const d: Vec3 = [p[0] - fit.centre[0], p[1] - fit.centre[1], p[2] - fit.centre[2]];
  return [
    fit.size / 2 + dot(d, view.right) * fit.scale,
    fit.size / 2 - dot(d, view.up) * fit.scale,
  ];
}

const OVERSAMPLE = 2;

/** Draws the scene; returns `size * size * 4` RGBA bytes. */
export function draw(
  scene: readonly PaintedMesh[],
  view: OrthographicView,
  fit: Viewport,
): Uint8Array {
  const n = fit.size * OVERSAMPLE;
  const big: Viewport = { size: n, scale: fit.scale * OVERSAMPLE, centre: fit.centre };
  const buffer: Buffer = {
    n,
    depth: new Float32Array(n * n).fill(-Infinity),
    item: new Int16Array(n * n).fill(-1),
    shade: new Float32Array(n * n),
  };
  scene.forEach((painted, i) => fillMesh(buffer, painted, i, view, big));
  return average(buffer, scene, fit.size);
}

interface Buffer {
  readonly n: number;
  readonly depth: Float32Array;
  readonly item: Int16Array;
  readonly shade: Float32Array;
}

/** Light from over the viewer's left shoulder. */
function lightOf(view: OrthographicView): Vec3 {
  return unit(
    [0, 1, 2].map(
      (c) => view.eye[c]! - 0.5 * view.right[c]! + 0.7 * view.up[c]!,
    ) as unknown as Vec3,
  );
}

function fillMesh(
  b: Buffer,
  painted: PaintedMesh,
  item: number,
  view: OrthographicView,
  fit: Viewport,
): void {
  const { vertices, triangles } = painted.mesh;
  const count = vertices.length / 3;
  const screen = new Float64Array(3 * count);
  for (let i = 0; i < count; i++) {
    const p: Vec3 = [vertices[3 * i]!, vertices[3 * i + 1]!, vertices[3 * i + 2]!];
    const [x, y] = project(p, view, fit);
    screen[3 * i] = x;
    screen[3 * i + 1] = y;
    screen[3 * i + 2] = dot(p, view.eye);
  }
  const light = lightOf(view);
  for (let t = 0; t < triangles.length / 3; t++) {
    if (painted.hidden?.[t]) continue;
    const [i, j, k] = [3 * triangles[3 * t]!, 3 * triangles[3 * t + 1]!, 3 * triangles[3 * t + 2]!];
    const n = normalOf(vertices, i, j, k);
    if (dot(n, view.eye) <= 0) continue;
    const shade = 0.42 + 0.58 * Math.max(0, dot(n, light));
    const at = linesOn(painted.level, screen, i, j, k);
    fillTriangle(b, screen, [i, j, k], item, (x, y, v, w) => {
      const hatched = painted.hatched?.[t] === 1 && (x + y) % 12 < 5;
      return shade * (hatched ? HATCH_SHADE : at?.(v, w) ? LINE_SHADE : 1);
    });
  }
}

function normalOf(v: Float64Array, i: number, j: number, k: number): Vec3 {
  const a: Vec3 = [v[j]! - v[i]!, v[j + 1]! - v[i + 1]!, v[j + 2]! - v[i + 2]!];
  const c: Vec3 = [v[k]! - v[i]!, v[k + 1]! - v[i + 1]!, v[k + 2]! - v[i + 2]!];
  return unit(cross(a, c));
}

/** Shade of hatching and of level lines, as a share of what is under them. */
const HATCH_SHADE = 0.35;
const LINE_SHADE = 0.6;
/** Half the width of a level line, pixels before averaging. */
const HALF_LINE = 0.8;

/** Whether a place of a triangle, in barycentric coordinates of its second and third corner, is on a level line. */
function linesOn(
  level: Float64Array | undefined,
  s: Float64Array,
  i: number,
  j: number,
  k: number,
): ((v: number, w: number) => boolean) | undefined {
  if (!level) return undefined;
  const [x, y] = [s[j]! - s[i]!, s[j + 1]! - s[i + 1]!];
  const [p, q] = [s[k]! - s[i]!, s[k + 1]! - s[i + 1]!];
  const from = level[i / 3]!;
  const [a, b] = [level[j / 3]! - from, level[k / 3]! - from];
  const twice = x * q - p * y;
  // How fast the level rises over the picture, per pixel.
  const rise = Math.hypot(a * q - b * y, b * x - a * p) / Math.abs(twice);
  return (v, w) => {
    const here = from + a * v + b * w;
    return Math.abs(here - Math.round(here)) < HALF_LINE * rise;
  };
}

/** Barycentric fill of the pixels whose centres lie in the triangle. */
function fillTriangle(
  b: Buffer,
  s: Float64Array,
  [i, j, k]: readonly [number, number, number],
  item: number,
  shadeAt: (x: number, y: number, v: number, w: number) => number,
): void {
  const [x0, y0, x1, y1, x2, y2] = [s[i]!, s[i + 1]!, s[j]!, s[j + 1]!, s[k]!, s[k + 1]!];
  const twice = (x1 - x0) * (y2 - y0) - (x2 - x0) * (y1 - y0);
  if (twice === 0) return;
  const top = Math.max(0, Math.ceil(Math.min(y0, y1, y2) - 0.5));
  const bottom = Math.min(b.n - 1, Math.floor(Math.max(y0, y1, y2) - 0.5));
  const left = Math.max(0, Math.ceil(Math.min(x0, x1, x2) - 0.5));
  const right = Math.min(b.n - 1, Math.floor(Math.max(x0, x1, x2) - 0.5));
  for (let y = top; y <= bottom; y++) {
    for (let x = left; x <= right; x++) {
      const px = x + 0.5;
      const py = y + 0.5;
      const v = ((px - x0) * (y2 - y0) - (x2 - x0) * (py - y0)) / twice;
      const w = ((x1 - x0) * (py - y0) - (px - x0) * (y1 - y0)) / twice;
      if (v < 0 || w < 0 || v + w > 1) continue;
      const depth = s[i + 2]! + v * (s[j + 2]! - s[i + 2]!) + w * (s[k + 2]! - s[i + 2]!);
      const at = y * b.n + x;
      if (depth <= b.depth[at]!) continue;
      b.depth[at] = depth;
      b.item[at] = item;
      b.shade[at] = shadeAt(x, y, v, w);
    }
  }
}

/** Averages down; a pixel at a step between items or in depth is drawn darker, as an outline. */
function average(b: Buffer, scene: readonly PaintedMesh[], size: number): Uint8Array {
  const out = new Uint8Array(size * size * 4);
  for (let y = 0; y < size; y++) {
    for (let x = 0; x < size; x++) {
      let covered = 0;
      const sum = [0, 0, 0];
      for (let dy = 0; dy < OVERSAMPLE; dy++) {
        for (let dx = 0; dx < OVERSAMPLE; dx++) {
          const at = (y * OVERSAMPLE + dy) * b.n + x * OVERSAMPLE + dx;
          if (b.item[at]! < 0) continue;
          covered++;
          const shade = b.shade[at]! * (outlined(b, at) ? 0.45 : 1);
          const colour = scene[b.item[at]!]!.colour;
          for (let c = 0; c < 3; c++) sum[c]! += colour[c]! * shade;
        }
      }
      const o = 4 * (y * size + x);
      for (let c = 0; c < 3; c++) out[o + c] = covered ? Math.min(255, sum[c]! / covered) : 0;
      out[o + 3] = (255 * covered) / (OVERSAMPLE * OVERSAMPLE);
    }
  }
  return out;
}

function outlined(b: Buffer, at: number): boolean {
  const right = at + 1 < b.item.length ? b.item[at + 1]! : -1;
  const below = at + b.n < b.item.length ? b.item[at + b.n]! : -1;
  return right !== b.item[at] || below !== b.item[at];
}
