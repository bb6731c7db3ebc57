/**
 * The picture of a plan as one self-contained SVG: the part from three sides, coloured by region, with
 * the build directions as arrows, hatched where something hangs unsupported, and a legend.
 */
import { encode } from 'fast-png';
import { DEG, type Vec3, along, dot } from '../base/vector.js';
import { bounds, massOf } from '../mesh/measure.js';
import type { Region } from '../regions/region.js';
import type { CurvedSkin } from './curved.js';
import {
  type Viewport,
  type PaintedMesh,
  type OrthographicView,
  draw,
  project,
  viewFrom,
} from '../draw/raster.js';
import { css, regionColour } from '../draw/palette.js';

const REGIONS_SIZE = 420;
const REGIONS_GAP = 16;
const REGIONS_HEAD = 58;

const sides: readonly { readonly name: string; readonly eye: Vec3 }[] = [
  { name: 'front left, from above', eye: [-0.65, -1, 0.55] },
  { name: 'back right, from above', eye: [0.9, 0.8, 0.45] },
  { name: 'front right, from below', eye: [0.8, -0.9, -0.6] },
];

export interface PictureText {
  readonly title: string;
  /** One line below the title, such as the unsupported areas. */
  readonly summary: string;
}

/** What grows in curved layers, with the sheets as lines on its skin instead of an arrow. */
export interface CurvedPicture {
  readonly skin: CurvedSkin;
  readonly mostTiltDeg: number;
}

/** Sheets that are drawn over the height of a part, about. */
const LINES = 30;

/**
 * @param hanging for each region a flag per triangle: 1 where it hangs unsupported
 * @param curved of the one region of a job in curved layers
 * @returns SVG text; the shaded views are PNG images inside it
 */
export function regionsPicture(
  regions: readonly Region[],
  hanging: readonly Uint8Array[],
  text: PictureText,
  curved?: CurvedPicture,
): string {
  const scene = curved
    ? [curvedScene(curved)]
    : regions.map((region, i): PaintedMesh => ({
        mesh: region.mesh,
        colour: regionColour(i),
        hatched: hanging[i]!,
        hidden: Uint8Array.from(region.cut, (c) => (c >= 0 ? 1 : 0)),
      }));
  const columns = Math.max(1, Math.ceil(regions.length / 8));
  const rows = Math.ceil(regions.length / columns);
  const width = 3 * REGIONS_SIZE + 4 * REGIONS_GAP;
  const height = REGIONS_HEAD + REGIONS_SIZE + 30 + 22 * rows + REGIONS_GAP;
  const views = sides.map((side, i) =>
    panel(curved ? [] : regions, scene, side, REGIONS_GAP + i * (REGIONS_SIZE + REGIONS_GAP)),
  );
  const legend = regions.map((region, i) => legendRow(region, i, rows, columns, width, curved));
  return [
    `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 ${width} ${height}" width="${width}" height="${height}" font-family="system-ui, sans-serif" role="img" aria-label="${escape(text.title)}">`,
    `<style>.ground{fill:#fdfdfb}.ink{fill:#1d1d1b}.soft{fill:#5c5c58}.halo{stroke:#fdfdfb}.line{stroke:#1d1d1b}.tip{fill:#1d1d1b}@media(prefers-color-scheme:dark){.ground{fill:#1c1d20}.ink{fill:#f0efea}.soft{fill:#a9a9a2}.halo{stroke:#1c1d20}.line{stroke:#f0efea}.tip{fill:#f0efea}}</style>`,
    `<rect class="ground" width="${width}" height="${height}"/>`,
    `<text class="ink" x="${REGIONS_GAP}" y="26" font-size="18" font-weight="600">${escape(text.title)}</text>`,
    `<text class="soft" x="${REGIONS_GAP}" y="47" font-size="13">${escape(text.summary)}</text>`,
    ...views,
    ...legend,
    '</svg>',
    '',
  ].join('\n');
}

function curvedScene(curved: CurvedPicture): PaintedMesh {
  const { mesh, level, hanging } = curved.skin;
  const every = layersALine(curved);
  return {
    mesh,
    colour: regionColour(0),
    hatched: hanging,
    level: level.map((l) => l / every),
  };
}

function layersALine({ skin }: CurvedPicture): number {
  const count = skin.level.reduce((most, l) => Math.max(most, l), 0);
  return Math.max(1, Math.round(count / LINES));
}

function panel(
  regions: readonly Region[],
  scene: readonly PaintedMesh[],
  side: (typeof sides)[number],
  x: number,
): string {
  const view = viewFrom(side.eye);
  const fit = fitOf(scene, view);
  const png = encode({
    width: REGIONS_SIZE,
    height: REGIONS_SIZE,
    data: draw(scene, view, fit),
    channels: 4,
    depth: 8,
  });
  const arrows = regions.map((region, i) => arrow(region, i, view, fit)).join('');
  return [
    `<g transform="translate(${x} ${REGIONS_HEAD})">`,
    `<image width="${REGIONS_SIZE}" height="${REGIONS_SIZE}" href="data:image/png;base64,${Buffer.from(png).toString('base64')}"/>`,
    arrows,
    `<text class="soft" x="${REGIONS_SIZE / 2}" y="${REGIONS_SIZE + 16}" font-size="12" text-anchor="middle">${side.name}</text>`,
    '</g>',
  ].join('');
}

/** Scale and centre at which the part and its arrows fill the panel. */
function fitOf(scene: readonly PaintedMesh[], view: OrthographicView): Viewport {
  let [left, right, low, high] = [Infinity, -Infinity, Infinity, -Infinity];
  const see = (p: Vec3): void => {
    const u = dot(p, view.right);
    const v = dot(p, view.up);
    left = Math.min(left, u);
    right = Math.max(right, u);
    low = Math.min(low, v);
    high = Math.max(high, v);
  };
  for (const { mesh } of scene) {
    const v = mesh.vertices;
    for (let i = 0; i < v.length; i += 3) see([v[i]!, v[i + 1]!, v[i + 2]!]);
  }
  const [u, v] = [(left + right) / 2, (low + high) / 2];
  const centre = [0, 1, 2].map((c) => u * view.right[c]! + v * view.up[c]!) as unknown as Vec3;
  return {
    size: REGIONS_SIZE,
    scale: (0.72 * REGIONS_SIZE) / Math.max(right - left, high - low, 1e-6),
    centre,
  };
}

/** From the middle of a region along its build direction, past its skin; foreshortened as it is seen. */
function arrow(region: Region, i: number, view: OrthographicView, fit: Viewport): string {
  const from = massOf(region.mesh).centre;
  const { least, most } = bounds(region.mesh);
  const reach = 0.5 * Math.hypot(most[0] - least[0], most[1] - least[1], most[2] - least[2]);
  const tip = along(from, region.direction, Math.max(reach, 55 / fit.scale));
  const [x0, y0] = project(from, view, fit);
  const [x1, y1] = inPanel([x0, y0], project(tip, view, fit));
  const seen = Math.hypot(x1 - x0, y1 - y0);
  const mark = label(x1, y1, i);
  if (seen < 6)
    return `<circle class="halo tip" cx="${x0}" cy="${y0}" r="4" stroke-width="2"/>${mark}`;
  const [ux, uy] = [(x1 - x0) / seen, (y1 - y0) / seen];
  const head = [
    [x1, y1],
    [x1 - 11 * ux + 5 * uy, y1 - 11 * uy - 5 * ux],
    [x1 - 11 * ux - 5 * uy, y1 - 11 * uy + 5 * ux],
  ].map((p) => p.map((c) => c.toFixed(1)).join(','));
  const line = `x1="${x0.toFixed(1)}" y1="${y0.toFixed(1)}" x2="${(x1 - 9 * ux).toFixed(1)}" y2="${(y1 - 9 * uy).toFixed(1)}"`;
  return [
    `<line class="halo" ${line} stroke-width="6" stroke-linecap="round"/>`,
    `<line class="line" ${line} stroke-width="2.2" stroke-linecap="round"/>`,
    `<polygon class="tip halo" points="${head.join(' ')}" stroke-width="1.5" paint-order="stroke"/>`,
    label(x1 + 12 * ux, y1 + 12 * uy, i),
  ].join('');
}

/** Room that an arrow leaves to the edge of its panel, for its number, pixels. */
const ARROW_MARGIN = 22;

/** The end of an arrow drawn back along it until it lies in the panel. */
function inPanel(
  [x0, y0]: readonly [number, number],
  [x1, y1]: readonly [number, number],
): readonly [number, number] {
  const room = (from: number, to: number): number => {
    const end = to > from ? REGIONS_SIZE - ARROW_MARGIN : ARROW_MARGIN;
    return to === from ? 1 : Math.max(0, (end - from) / (to - from));
  };
  const share = Math.min(1, room(x0, x1), room(y0, y1));
  return [x0 + share * (x1 - x0), y0 + share * (y1 - y0)];
}

function label(x: number, y: number, i: number): string {
  return `<text class="ink halo" x="${x.toFixed(1)}" y="${(y + 4).toFixed(1)}" font-size="13" font-weight="600" text-anchor="middle" stroke-width="3" paint-order="stroke">${i + 1}</text>`;
}

function legendRow(
  region: Region,
  i: number,
  rows: number,
  columns: number,
  width: number,
  curved: CurvedPicture | undefined,
): string {
  const column = Math.floor(i / rows);
  const x = REGIONS_GAP + (column * (width - 2 * REGIONS_GAP)) / columns;
  const y = REGIONS_HEAD + REGIONS_SIZE + 34 + 22 * (i % rows);
  const tilt = Math.acos(Math.max(-1, Math.min(1, region.direction[2]))) / DEG;
  const hangs =
    region.unsupportedArea > 0.005
      ? `, ${region.unsupportedArea.toFixed(1)} mm² hangs unsupported`
      : '';
  const every = curved ? layersALine(curved) : 0;
  const grows = curved
    ? `curved layers, tilted by up to ${curved.mostTiltDeg.toFixed(1)}° (a line every ${every === 1 ? 'layer' : `${every} layers`})`
    : `tilt ${tilt.toFixed(1)}°`;
  const what = `region ${i + 1}: ${grows}, ${(region.volume / 1000).toFixed(2)} cm³${hangs}`;
  return `<rect x="${x}" y="${y}" width="14" height="14" rx="2" fill="${css(regionColour(i))}"/><text class="ink" x="${x + 20}" y="${y + 12}" font-size="13">${what}</text>`;
}

const escape = (text: string): string =>
  text.replace(/[&<>"]/g, (c) => ({ '&': '&amp;', '<': '&lt;', '>': '&gt;', '"': '&quot;' })[c]!);
