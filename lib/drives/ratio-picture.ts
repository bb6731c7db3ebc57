/**
 * Time of the job against the ratio of each drive that moves one joint alone, as one SVG: a panel per
 * drive, a line per motor, ratios on a logarithmic scale.
 */
import type { Study } from './study.js';
import { EQUAL, type RatioSweep } from './ratio-sweep.js';
import { round } from './study-words.js';
import { PICTURE_STYLE, escape } from '../directions/map-picture.js';
import { css, regionColour } from '../draw/palette.js';
import { INK, disc, panelsImage, stroke } from '../draw/panels.js';

const RATIO_PANEL = { width: 400, height: 210 };
const RATIO_PAD = { left: 66, right: 22, top: 34, bottom: 66 };
const RATIO_CELL = {
  width: RATIO_PAD.left + RATIO_PANEL.width + RATIO_PAD.right,
  height: RATIO_PAD.top + RATIO_PANEL.height + RATIO_PAD.bottom,
};
const RATIO_HEAD = 64;
const COLUMNS = 2;

export function ratioPicture(study: Study, source: string): string {
  const motors = study.machine.drives!.motors.map((m) => m.name);
  const rows = Math.ceil(study.sweeps.length / COLUMNS);
  const width = COLUMNS * RATIO_CELL.width + 8;
  const legend = 22 * motors.length + 10;
  const height = RATIO_HEAD + rows * RATIO_CELL.height + legend;
  const title = `Time of the job against ratio: ${source}`;
  const panels = study.sweeps.map((sweep, i) => {
    const x = (i % COLUMNS) * RATIO_CELL.width;
    const y = RATIO_HEAD + Math.floor(i / COLUMNS) * RATIO_CELL.height;
    return `<g transform="translate(${x} ${y})">${panel(study, sweep, motors)}</g>`;
  });
  return [
    `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 ${width} ${height}" width="${width}" height="${height}" font-family="system-ui, sans-serif" role="img" aria-label="${escape(title)}">`,
    PICTURE_STYLE,
    `<rect class="ground" width="${width}" height="${height}"/>`,
    `<text class="ink" x="20" y="28" font-size="18" font-weight="600">${escape(title)}</text>`,
    `<text class="soft" x="20" y="49" font-size="13">each joint as fast as its motor can carry with a reserve of ${study.machine.drives!.reserve}, the others as in the machine file; no dot: it cannot carry the load</text>`,
    ...panels,
    ...motors.map((name, i) => legendRow(name, i, RATIO_HEAD + rows * RATIO_CELL.height + 22 * i)),
    '</svg>',
    '',
  ].join('\n');
}

function legendRow(name: string, i: number, y: number): string {
  return `<line x1="${RATIO_PAD.left}" x2="${RATIO_PAD.left + 30}" y1="${y}" y2="${y}" stroke="${css(regionColour(i))}" stroke-width="2.6"/><text class="ink" x="${RATIO_PAD.left + 40}" y="${y + 4}" font-size="13">${escape(name)}</text>`;
}

function panel(study: Study, sweep: RatioSweep, motors: readonly string[]): string {
  const joint = study.joints[sweep.joint]!;
  const { low, high, from, to } = rangeOf(study, sweep);
  const [across, up] = scalesOf(study, sweep);
  const x = (ratio: number): number => RATIO_PAD.left + across(ratio);
  const y = (seconds: number): number => RATIO_PAD.top + up(seconds);
  const floor = RATIO_PAD.top + RATIO_PANEL.height;
  const said = joint.rotary ? 'ratio, turns of the motor a turn' : 'mm for a turn of the motor';
  const digits = Math.max(0, Math.ceil(1 - Math.log10((to - from) / 4 / 60)));
  const levels = [0, 0.25, 0.5, 0.75, 1].map((share) => {
    const value = from + share * (to - from);
    const at = y(value).toFixed(1);
    return `<line class="faint" x1="${RATIO_PAD.left}" x2="${RATIO_PAD.left + RATIO_PANEL.width}" y1="${at}" y2="${at}" stroke-width="${share === 0 ? 1.2 : 0.4}"/><text class="soft" x="${RATIO_PAD.left - 8}" y="${(+at + 4).toFixed(1)}" font-size="11" text-anchor="end">${(value / 60).toFixed(digits)}</text>`;
  });
  const own = sweep.points.filter((p) => p.motor === motors[0]);
  const ticks = own.map(
    (p) =>
      `<text class="soft" x="${x(p.ratio).toFixed(1)}" y="${floor + 16}" font-size="11" text-anchor="middle">${round(p.ratio)}</text>`,
  );
  const now = x(sweep.ratio).toFixed(1);
  return [
    `<text class="ink" x="${RATIO_PAD.left}" y="18" font-size="14" font-weight="600">${escape(`${sweep.drive}: ${joint.letter}, min`)}</text>`,
    ...levels,
    ...ticks,
    `<line class="line" x1="${now}" x2="${now}" y1="${RATIO_PAD.top}" y2="${floor}" stroke-width="1" stroke-dasharray="3 4"/>`,
    ...motors.map((name, i) => curve(sweep, name, css(regionColour(i)), x, y)),
    inertiaMark(sweep.byInertia, low, high, x, floor),
    `<text class="soft" x="${RATIO_PAD.left}" y="${floor + 33}" font-size="11">${said}; broken line: now</text>`,
    `<text class="soft" x="${RATIO_PAD.left}" y="${floor + 49}" font-size="11">triangle: best by inertia (${round(sweep.byInertia)}); ${timeText(sweep)}</text>`,
  ].join('');
}

function timeText({ byTime, spread }: RatioSweep): string {
  if (!byTime) return 'no motor carries the load';
  if (spread <= EQUAL) return 'the job hardly feels the ratio';
  return `best by time: ${round(byTime.ratio)} with ${byTime.motor}`;
}

interface PanelRange {
  /** Ratios. */
  readonly low: number;
  readonly high: number;
  /** s */
  readonly from: number;
  readonly to: number;
}

function rangeOf(study: Study, { points }: RatioSweep): PanelRange {
  const ratios = points.map((p) => p.ratio);
  const times = points.map((p) => p.seconds).filter(Number.isFinite);
  const [from, to] = spanOf([...times, study.seconds]);
  return { low: Math.min(...ratios), high: Math.max(...ratios), from, to };
}

/** Where a ratio and a time lie in a panel, from its upper left corner. */
function scalesOf(
  study: Study,
  sweep: RatioSweep,
): [(ratio: number) => number, (s: number) => number] {
  const { low, high, from, to } = rangeOf(study, sweep);
  return [
    (ratio) => (RATIO_PANEL.width * Math.log(ratio / low)) / Math.log(high / low),
    (seconds) => RATIO_PANEL.height * (1 - (seconds - from) / (to - from)),
  ];
}

/** The panels alone, in the order of the sweeps: lines of the motors, the present ratio, no text. */
export function ratioRaster(study: Study): Uint8Array {
  return panelsImage(study.sweeps.length, RATIO_PANEL, (i, dot) => {
    const sweep = study.sweeps[i]!;
    const [x, y] = scalesOf(study, sweep);
    const now = x(sweep.ratio);
    for (let v = 0; v < RATIO_PANEL.height; v += 8)
      stroke(
        [
          [now, v],
          [now, v + 3],
        ],
        INK,
        dot,
      );
    study.machine.drives!.motors.forEach(({ name }, m) => {
      const able = sweep.points.filter((p) => p.motor === name && Number.isFinite(p.seconds));
      const at = able.map((p) => [x(p.ratio), y(p.seconds)] as const);
      stroke(at, regionColour(m), dot);
      for (const point of at) disc(point, 3.6, regionColour(m), dot);
    });
  });
}

/** Room around the times, so that a flat line does not fill the panel with noise: a hundredth at least. */
function spanOf(times: readonly number[]): readonly [number, number] {
  const least = Math.min(...times);
  const most = Math.max(...times);
  const room = Math.max(0.08 * (most - least), 0.005 * most);
  return [least - room, most + room];
}

function curve(
  sweep: RatioSweep,
  motor: string,
  colour: string,
  x: (ratio: number) => number,
  y: (seconds: number) => number,
): string {
  const points = sweep.points.filter((p) => p.motor === motor && Number.isFinite(p.seconds));
  const at = points.map((p) => [x(p.ratio).toFixed(1), y(p.seconds).toFixed(1)] as const);
  const dots = at.map(([u, v]) => `<circle cx="${u}" cy="${v}" r="3.6" fill="${colour}"/>`);
  return `<polyline points="${at.map((p) => p.join(',')).join(' ')}" fill="none" stroke="${colour}" stroke-width="2.2" stroke-linejoin="round"/>${dots.join('')}`;
}

function inertiaMark(
  ratio: number,
  low: number,
  high: number,
  x: (ratio: number) => number,
  floor: number,
): string {
  if (ratio < low || ratio > high) return '';
  const u = x(ratio);
  return `<polygon class="ink" points="${u - 6},${floor} ${u + 6},${floor} ${u},${floor - 10}"/>`;
}
