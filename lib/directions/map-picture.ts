/**
 * The map of build directions as a picture: an equal-area disc coloured by what hangs, with the edge of the
 * reach, the directions of the plan, a scale and the smallest sets beside it. One self-contained SVG, or a
 * plain PNG of the disc.
 */
import { encode } from 'fast-png';
import { DEG, type Vec3 } from '../base/vector.js';
import type { PartNeeds } from './needs.js';
import { discRadius, spot, drawDisc, onDisc } from './disc.js';
import { viridis } from '../draw/viridis.js';
import { css } from '../draw/palette.js';

const DISC = 560;
const MAP_GAP = 24;
const MAP_HEAD = 70;
const MAP_PANEL_WIDTH = 330;
/** The raster is finer than the page, for high-resolution screens. */
const RASTER_SCALE = 2;

/** Colours for light and dark pages, shared by the pictures of directions. */
export const PICTURE_STYLE =
  '<style>.ground{fill:#fdfdfb}.ink{fill:#1d1d1b}.soft{fill:#5c5c58}.halo{stroke:#fdfdfb}.line{stroke:#1d1d1b}.faint{stroke:#8a8a84}@media(prefers-color-scheme:dark){.ground{fill:#1c1d20}.ink{fill:#f0efea}.soft{fill:#a9a9a2}.halo{stroke:#1c1d20}.line{stroke:#f0efea}.faint{stroke:#77776f}}</style>';

export const escape = (text: string): string =>
  text.replace(/[&<>"]/g, (c) => ({ '&': '&amp;', '<': '&lt;', '>': '&gt;', '"': '&quot;' })[c]!);

/** @param canReach of the machine, with the job's largest tilt */
export function mapPicture(needs: PartNeeds, canReach: (d: Vec3) => boolean): string {
  const width = DISC + MAP_PANEL_WIDTH + 3 * MAP_GAP;
  const height = MAP_HEAD + DISC + 44;
  const most = mostOf(needs);
  const title = `Build directions of ${needs.name}`;
  const { asPlacedMm2, bestSingleDirectionMm2, plannedMm2 } = needs.plan.unsupported;
  const summary = `hangs unsupported: as placed ${asPlacedMm2.toFixed(1)} mm², best single direction ${bestSingleDirectionMm2.toFixed(1)} mm², planned in ${needs.plan.regions.length} regions ${plannedMm2.toFixed(1)} mm²`;
  const png = encode(discImage(needs, canReach, most, RASTER_SCALE * DISC));
  return [
    `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 ${width} ${height}" width="${width}" height="${height}" font-family="system-ui, sans-serif" role="img" aria-label="${escape(title)}">`,
    PICTURE_STYLE,
    `<rect class="ground" width="${width}" height="${height}"/>`,
    `<text class="ink" x="${MAP_GAP}" y="28" font-size="18" font-weight="600">${escape(title)}</text>`,
    `<text class="soft" x="${MAP_GAP}" y="49" font-size="13">${escape(summary)}</text>`,
    `<g transform="translate(${MAP_GAP} ${MAP_HEAD})">`,
    `<image width="${DISC}" height="${DISC}" href="data:image/png;base64,${Buffer.from(png).toString('base64')}"/>`,
    ...rings(),
    ...needs.plan.regions.map(({ direction }, i) => mark(direction, i)),
    `<text class="soft" x="${DISC / 2}" y="${DISC + 18}" font-size="12" text-anchor="middle">every build direction, seen from above the table, areas true; part +X to the right, +Y up</text>`,
    `<text class="soft" x="${DISC / 2}" y="${DISC + 34}" font-size="12" text-anchor="middle">pale: out of reach; numbers: directions of the planned regions</text>`,
    '</g>',
    `<g transform="translate(${DISC + 2 * MAP_GAP} ${MAP_HEAD + 10})">`,
    ...scaleBar(most),
    ...setRows(needs),
    '</g>',
    '</svg>',
    '',
  ].join('\n');
}

/** The disc alone with the directions of the plan as rings, RGBA. */
export function mapImage(needs: PartNeeds, canReach: (d: Vec3) => boolean, size = 800): Uint8Array {
  const image = discImage(needs, canReach, mostOf(needs), size);
  for (const { direction } of needs.plan.regions) {
    const [u, v] = onDisc(direction);
    const [x, y] = [(size * (1 + u)) / 2, (size * (1 - v)) / 2];
    for (const [radius, value] of [
      [9, 0],
      [7, 255],
      [4, 0],
    ] as const) {
      spot(image.data, size, x, y, radius, value);
    }
  }
  return encode(image);
}

function discImage(
  { map }: PartNeeds,
  canReach: (d: Vec3) => boolean,
  most: number,
  size: number,
): { width: number; height: number; data: Uint8Array; channels: 4; depth: 8 } {
  const data = drawDisc(map, canReach, { size, most });
  return { width: size, height: size, data, channels: 4, depth: 8 };
}

const mostOf = ({ map }: PartNeeds): number => map.areas.reduce((a, b) => Math.max(a, b), 1e-9);

/** Circles of equal tilt with their values, on a halo that any colour carries. */
function rings(): string[] {
  return [30, 60, 90, 120, 150].map((tilt) => {
    const r = (DISC / 2) * discRadius(tilt * DEG);
    const c = DISC / 2;
    return `<circle cx="${c}" cy="${c}" r="${r.toFixed(1)}" fill="none" stroke="#fff" stroke-opacity="0.45" stroke-width="1" stroke-dasharray="3 4"/>${tag(c, c + r, `${tilt}°`, 11)}`;
  });
}

function mark(direction: Vec3, i: number): string {
  const [u, v] = onDisc(direction);
  const [x, y] = [(DISC * (1 + u)) / 2, (DISC * (1 - v)) / 2];
  return `<circle cx="${x.toFixed(1)}" cy="${y.toFixed(1)}" r="4.5" fill="#fff" stroke="#000" stroke-width="2"/>${tag(x + 12, y - 7, String(i + 1), 14)}`;
}

const tag = (x: number, y: number, text: string, size: number): string =>
  `<text x="${x.toFixed(1)}" y="${(y + 4).toFixed(1)}" font-size="${size}" font-weight="600" text-anchor="middle" fill="#fff" stroke="#000" stroke-width="3" stroke-linejoin="round" paint-order="stroke">${text}</text>`;

function scaleBar(most: number): string[] {
  const steps = 60;
  const cell = MAP_PANEL_WIDTH / steps;
  const bar = Array.from(
    { length: steps },
    (_, i) =>
      `<rect x="${(i * cell).toFixed(2)}" y="22" width="${(cell + 0.5).toFixed(2)}" height="14" fill="${css(viridis((i + 0.5) / steps))}"/>`,
  );
  const ends = [0, most / 2, most].map(
    (value, i) =>
      `<text class="soft" x="${(i * MAP_PANEL_WIDTH) / 2}" y="52" font-size="12" text-anchor="${['start', 'middle', 'end'][i]}">${value.toFixed(0)}</text>`,
  );
  return [
    '<text class="ink" x="0" y="12" font-size="13" font-weight="600">hangs if all is built in one direction, mm²</text>',
    ...bar,
    ...ends,
  ];
}

/** For each number of directions the bound that no plan can beat and what a quick plan leaves. */
function setRows({ sets, planned, candidates }: PartNeeds): string[] {
  const most = Math.max(sets.length, planned.length);
  const rows = Array.from({ length: most }, (_, i) => {
    const bound = sets[i] ?? sets.at(-1)!;
    const plan = planned[i] ?? planned.at(-1)!;
    const y = 146 + 40 * i;
    const where = i < planned.length ? `+ ${plan.directions.slice(-1).map(angles).join('')}` : '';
    return [
      cell(0, y, 'ink', 13, String(i + 1)),
      cell(40, y, 'ink', 13, `${plan.unsupportedMm2.toFixed(1)} mm²`),
      cell(200, y, 'ink', 13, `${bound.unsupportedMm2.toFixed(1)} mm²`),
      cell(40, y + 16, 'soft', 11, i === 0 ? 'the table normal' : where),
    ].join('');
  });
  return [
    cell(0, 88, 'ink', 13, 'What stays with so many directions', 600),
    cell(0, 105, 'soft', 11, `bound: ${candidates} directions, cuts, head and order left aside`),
    cell(40, 125, 'soft', 12, 'by a quick plan'),
    cell(200, 125, 'soft', 12, 'at least'),
    ...rows,
  ];
}

const angles = ([x, y, z]: Vec3): string =>
  `tilt ${(Math.acos(Math.max(-1, Math.min(1, z))) / DEG).toFixed(0)}°, azimuth ${(Math.atan2(y, x) / DEG).toFixed(0)}°`;

const cell = (x: number, y: number, look: string, size: number, text: string, weight = 400) =>
  `<text class="${look}" x="${x}" y="${y}" font-size="${size}" font-weight="${weight}">${escape(text)}</text>`;
