/**
 * Residuals of a calibration against tilt, turn, time, height, place and side, as one SVG: a panel for each
 * variable, a dot for each touch, the band of twice the noise that was stated. What runs with a variable is an
 * error that the fit does not hold; noise alone is a cloud in the band.
 */
import { DEG } from '../base/vector.js';
import type { DeviationFit } from '../calibrate/deviation-fit.js';
import type { Variable } from '../calibrate/effect.js';
import { tiltingJoints } from '../calibrate/effects.js';
import { variablesOf } from '../calibrate/suspects.js';
import { turningTable } from '../calibrate/deviation-model.js';
import { PICTURE_STYLE, escape } from '../directions/map-picture.js';
import { css, regionColour } from '../draw/palette.js';
import { jointsOf } from '../machine/joint-chain.js';
import type { Machine } from '../machine/machine.js';

const RESIDUAL_PANEL = { width: 360, height: 150, left: 60, right: 24, top: 34, bottom: 44 };
const RESIDUAL_HEAD = 64;
const COLUMNS = 2;

/** One panel: what stands along it, and each touch's place there. */
interface ResidualPanel {
  readonly name: string;
  readonly values: readonly number[];
}

/** @param noise standard deviation of one touch that was stated, mm */
export function residualPicture(fit: DeviationFit, noise: number): string {
  const panels = panelsOf(fit);
  const { width: w, height: h, left, right, top, bottom } = RESIDUAL_PANEL;
  const cell = { width: left + w + right, height: top + h + bottom };
  const width = COLUMNS * cell.width;
  const height = RESIDUAL_HEAD + Math.ceil(panels.length / COLUMNS) * cell.height + 34;
  const title = `Residuals of ${fit.used.length} touches: ${fit.model.machine.name}`;
  const most = Math.max(3 * noise, ...fit.after.map(Math.abs));
  const aims = [...new Set(fit.used.map((t) => t.aim))];
  return [
    `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 ${width} ${height}" width="${width}" height="${height}" font-family="system-ui, sans-serif" role="img" aria-label="${escape(title)}">`,
    PICTURE_STYLE,
    `<rect class="ground" width="${width}" height="${height}"/>`,
    `<text class="ink" x="20" y="28" font-size="18" font-weight="600">${escape(title)}</text>`,
    `<text class="soft" x="20" y="49" font-size="13">mm; lines: twice the noise of ${noise} mm that was stated</text>`,
    ...panels.map((panel, i) => {
      const [x, y] = [i % COLUMNS, Math.floor(i / COLUMNS)];
      return `<g transform="translate(${x * cell.width} ${RESIDUAL_HEAD + y * cell.height})">${drawn(fit, panel, noise, most, aims)}</g>`;
    }),
    ...aims.map(
      (aim, i) =>
        `<circle cx="${left + 110 * i}" cy="${height - 20}" r="4" fill="${css(regionColour(i))}"/><text class="ink" x="${left + 110 * i + 10}" y="${height - 16}" font-size="13">${escape(aim)}</text>`,
    ),
    '</svg>',
    '',
  ].join('\n');
}

function drawn(
  { used, after }: DeviationFit,
  { name, values }: ResidualPanel,
  noise: number,
  most: number,
  aims: readonly string[],
): string {
  const { width, height, left, top } = RESIDUAL_PANEL;
  const [from, to] = [Math.min(...values), Math.max(...values)];
  const across = (v: number): string =>
    (left + (width * (v - from)) / Math.max(to - from, 1e-9)).toFixed(1);
  const up = (r: number): string => (top + (height * (most - r)) / (2 * most)).toFixed(1);
  const line = (r: number, style: string): string =>
    `<line class="faint" x1="${left}" x2="${left + width}" y1="${up(r)}" y2="${up(r)}" ${style}/>`;
  const level = (r: number): string =>
    `<text class="soft" x="${left - 8}" y="${up(r)}" dy="4" font-size="11" text-anchor="end">${r.toFixed(3)}</text>`;
  const end = (v: number, anchor: string): string =>
    `<text class="soft" x="${across(v)}" y="${top + height + 16}" font-size="11" text-anchor="${anchor}">${v.toFixed(0)}</text>`;
  return [
    `<text class="ink" x="${left}" y="18" font-size="14" font-weight="600">${escape(name)}</text>`,
    line(0, 'stroke-width="1"'),
    line(2 * noise, 'stroke-width="1" stroke-dasharray="3 4"'),
    line(-2 * noise, 'stroke-width="1" stroke-dasharray="3 4"'),
    level(most),
    level(0),
    level(-most),
    end(from, 'start'),
    end(to, 'end'),
    ...used.map(
      ({ aim }, i) =>
        `<circle cx="${across(values[i]!)}" cy="${up(after[i]!)}" r="3" fill="${css(regionColour(aims.indexOf(aim)))}" fill-opacity="0.8"/>`,
    ),
  ].join('');
}

function panelsOf({ state, used }: DeviationFit): ResidualPanel[] {
  const all = used.map((t) => variablesOf(state, t));
  return namesOf(state.machine).map(({ variable, k, name, size }) => ({
    name,
    values: all.map((v) => v[variable][k]! / size),
  }));
}

interface PlottedVariable {
  readonly variable: Variable;
  /** Which of its values. */
  readonly k: number;
  readonly name: string;
  /** Unit in which it is shown. */
  readonly size: number;
}

function namesOf(machine: Machine): PlottedVariable[] {
  const { joints } = machine;
  const turning = turningTable(machine);
  const linear = jointsOf(machine, 'linear');
  const upright = (i: number): boolean => Math.abs(joints[i]!.axis[2]) > Math.SQRT1_2;
  const lengths = (variable: Variable, which: number[], word: string): PlottedVariable[] =>
    which.map((i, k) => ({ variable, k, name: `${word}: ${joints[i]!.letter}, mm`, size: 1 }));
  return [
    ...tiltingJoints(machine).map((i, k) => {
      return { variable: 'tilt' as const, k, name: `tilt: ${joints[i]!.letter}, deg`, size: DEG };
    }),
    ...(turning < 0
      ? []
      : [
          {
            variable: 'turn' as const,
            k: 0,
            name: `turn: ${joints[turning]!.letter}, deg`,
            size: DEG,
          },
        ]),
    { variable: 'time', k: 0, name: 'time: number of the touch', size: 1 },
    ...lengths('height', linear.filter(upright), 'height'),
    ...lengths(
      'place',
      linear.filter((i) => !upright(i)),
      'place',
    ),
    { variable: 'side', k: 0, name: 'side of the ball, mm', size: 1 },
    { variable: 'side', k: 1, name: 'side of the ball, across that, mm', size: 1 },
  ];
}
