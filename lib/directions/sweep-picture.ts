/**
 * The sweeps as curves in one SVG: a panel for each limit, a line for each part and their sum where there
 * are several; the sentence of the sweep stands under its panel.
 */
import type { Demand, PartNeeds } from './needs.js';
import type { Limit } from './changed-limits.js';
import type { LimitPoint } from './sweeps.js';
import { valueText } from './sweep-words.js';
import { PICTURE_STYLE, escape } from './map-picture.js';
import { css, regionColour } from '../draw/palette.js';

const SWEEP_PANEL = { width: 400, height: 210 };
const SWEEP_PAD = { left: 62, right: 20, top: 34, bottom: 46 };
const SWEEP_GAP = 20;
const SWEEP_HEAD = 60;
const COLUMNS = 2;
const SENTENCE_LINES = 3;
const SWEEP_CELL = SWEEP_PAD.top + SWEEP_PANEL.height + SWEEP_PAD.bottom + 16 * SENTENCE_LINES;

const names: Readonly<Record<Limit, string>> = {
  tilt: 'tilt limit',
  rotary: 'range of the turning joint',
  table: 'table radius',
  cone: 'half-angle of a cone-shaped head',
  head: 'greatest radius of the head',
};

interface SweepCurve {
  readonly name: string;
  readonly colour: string;
  readonly points: readonly LimitPoint[];
  /** What curved layers leave, drawn dotted; of the tilt alone. */
  readonly curved?: readonly LimitPoint[];
}

export function curvesPicture(parts: readonly PartNeeds[], demands: readonly Demand[]): string {
  const shown = demands.filter((d) => d.sweep.points.length > 0);
  const cellWidth = SWEEP_PAD.left + SWEEP_PANEL.width + SWEEP_PAD.right;
  const rows = Math.ceil(shown.length / COLUMNS);
  const legend = parts.length > 1 ? 22 * (parts.length + 1) : 0;
  const width = COLUMNS * cellWidth + SWEEP_GAP;
  const height = SWEEP_HEAD + rows * (SWEEP_CELL + SWEEP_GAP) + legend + 10;
  const title =
    parts.length === 1 ? `What ${parts[0]!.name} needs` : `What ${parts.length} parts need`;
  const panels = shown.map((demand, i) => {
    const x = (i % COLUMNS) * cellWidth;
    const y = SWEEP_HEAD + Math.floor(i / COLUMNS) * (SWEEP_CELL + SWEEP_GAP);
    return `<g transform="translate(${x} ${y})">${panel(demand, curvesOf(demand, parts))}</g>`;
  });
  return [
    `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 ${width} ${height}" width="${width}" height="${height}" font-family="system-ui, sans-serif" role="img" aria-label="${escape(title)}">`,
    PICTURE_STYLE,
    `<rect class="ground" width="${width}" height="${height}"/>`,
    `<text class="ink" x="${SWEEP_GAP}" y="28" font-size="18" font-weight="600">${escape(title)}</text>`,
    `<text class="soft" x="${SWEEP_GAP}" y="49" font-size="13">unsupported area after a quick plan, mm², strict to the left; one limit at a time, the others as in the machine file</text>`,
    ...panels,
    ...(parts.length > 1 ? legendRows(curvesOf(shown[0]!, parts), height - legend) : []),
    '</svg>',
    '',
  ].join('\n');
}

function curvesOf({ limit, sweep, curved }: Demand, parts: readonly PartNeeds[]): SweepCurve[] {
  const own = parts.map((part, i) => ({
    name: part.name,
    colour: css(regionColour(i)),
    points: part.sweeps.find((s) => s.limit === limit)!.points,
    ...(curved && { curved: part.curved.points }),
  }));
  const sum = { name: 'sum', colour: 'sum', points: sweep.points };
  return parts.length > 1 ? [...own, { ...sum, ...(curved && { curved: curved.points }) }] : own;
}

function panel({ limit, words }: Demand, curves: readonly SweepCurve[]): string {
  const areas = curves.flatMap((c) => c.points.map((p) => p.unsupportedMm2 ?? 0));
  const dotted = curves.some((c) => c.curved);
  const top = niceTop(Math.max(1, ...areas));
  const count = curves[0]!.points.length;
  const x = (i: number): number => SWEEP_PAD.left + ((i + 0.5) / count) * SWEEP_PANEL.width;
  const y = (area: number): number => SWEEP_PAD.top + SWEEP_PANEL.height * (1 - area / top);
  const floor = SWEEP_PAD.top + SWEEP_PANEL.height;
  const levels = [0, 0.25, 0.5, 0.75, 1].map((share) => {
    const at = y(share * top).toFixed(1);
    return `<line class="faint" x1="${SWEEP_PAD.left}" x2="${SWEEP_PAD.left + SWEEP_PANEL.width}" y1="${at}" y2="${at}" stroke-width="${share === 0 ? 1.2 : 0.4}"/><text class="soft" x="${SWEEP_PAD.left - 8}" y="${(+at + 4).toFixed(1)}" font-size="11" text-anchor="end">${Number((share * top).toPrecision(3))}</text>`;
  });
  const ticks = curves[0]!.points.map(
    (p, i) =>
      `<text class="soft" x="${x(i).toFixed(1)}" y="${floor + 16}" font-size="11" text-anchor="middle">${valueText(limit, p.value).replace(' deg', '°').replace(' mm', '')}</text>`,
  );
  const unit = limit === 'table' || limit === 'head' ? ', mm' : '';
  return [
    `<text class="ink" x="${SWEEP_PAD.left}" y="18" font-size="14" font-weight="600">${names[limit]}${unit}</text>`,
    ...(dotted
      ? [
          `<text class="soft" x="${SWEEP_PAD.left + SWEEP_PANEL.width}" y="18" font-size="12" text-anchor="end">line: flat regions; dotted: curved layers</text>`,
        ]
      : []),
    ...levels,
    ...ticks,
    ...curves.map((c) => drawCurve(c, x, y)),
    ...wrapped(words, 66).map(
      (line, i) =>
        `<text class="ink" x="${SWEEP_PAD.left}" y="${floor + 38 + 16 * i}" font-size="12">${escape(line)}</text>`,
    ),
  ].join('');
}

/** The values are steps of a table, not a scale: even distances, straight lines, a dot at each. */
function drawCurve(
  { colour, points, curved = [] }: SweepCurve,
  x: (i: number) => number,
  y: (area: number) => number,
): string {
  const at = points.flatMap((p, i) =>
    p.unsupportedMm2 === undefined ? [] : [[x(i), y(p.unsupportedMm2)] as const],
  );
  const line = at.map(([u, v]) => `${u.toFixed(1)},${v.toFixed(1)}`).join(' ');
  const beside = curved
    .flatMap((p, i) =>
      p.unsupportedMm2 === undefined
        ? []
        : [`${x(i).toFixed(1)},${y(p.unsupportedMm2).toFixed(1)}`],
    )
    .join(' ');
  const stroke = colour === 'sum' ? 'class="line" stroke-dasharray="5 4"' : `stroke="${colour}"`;
  const fill = colour === 'sum' ? 'class="ink"' : `fill="${colour}"`;
  const dots = at.map(
    ([u, v]) => `<circle cx="${u.toFixed(1)}" cy="${v.toFixed(1)}" r="3.6" ${fill}/>`,
  );
  const ink = colour === 'sum' ? 'class="line"' : `stroke="${colour}"`;
  const dotted = beside
    ? `<polyline points="${beside}" fill="none" ${ink} stroke-width="2.2" stroke-linecap="round" stroke-dasharray="0.1 5"/>`
    : '';
  return `<polyline points="${line}" fill="none" ${stroke} stroke-width="2.2" stroke-linejoin="round"/>${dotted}${dots.join('')}`;
}

function legendRows(curves: readonly SweepCurve[], y: number): string[] {
  return curves.map(({ name, colour }, i) => {
    const at = y + 22 * i;
    const stroke = colour === 'sum' ? 'class="line" stroke-dasharray="5 4"' : `stroke="${colour}"`;
    return `<line x1="${SWEEP_PAD.left}" x2="${SWEEP_PAD.left + 30}" y1="${at}" y2="${at}" ${stroke} stroke-width="2.6"/><text class="ink" x="${SWEEP_PAD.left + 40}" y="${at + 4}" font-size="13">${escape(name)}</text>`;
  });
}

/** The least of 1, 2, 4, 8 times a power of ten that is not less: its quarters are round too. */
export function niceTop(value: number): number {
  const power = 10 ** Math.floor(Math.log10(value));
  const step = [1, 2, 4, 8, 10].find((s) => s * power >= value * (1 - 1e-9))!;
  return step * power;
}

function wrapped(text: string, most: number): string[] {
  const out: string[] = [''];
  for (const word of text.split(' ')) {
    const line = out[out.length - 1]!;
    if (line && line.length + 1 + word.length > most) out.push(word);
    else out[out.length - 1] = line ? `${line} ${word}` : word;
  }
  return out;
}
