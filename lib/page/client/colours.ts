/** What colours a block in each mode, and the legend that says so. */
import { TraceKind } from '../../verify/trace.js';
import { viridis } from '../../draw/viridis.js';
import { css, regionColour } from '../../draw/palette.js';
import type { Colour } from '../../draw/raster.js';
import type { Paint } from './beads.js';
import { el } from './dom.js';
import { speedOf } from './envelope.js';
import { blocksOf } from './findings.js';
import type { PageModel } from './model.js';
import type { ColourMode } from './store.js';
import { figure, tiltWords } from './number-words.js';

/** Moves without material, and blocks that the mode does not concern. */
const MOVE: Colour = [120, 120, 116];
const REST_COLOUR: Colour = [176, 176, 170];
/** Okabe and Ito's vermillion, orange and blue. */
export const SEVERITY: Readonly<Record<string, Colour>> = {
  error: [213, 94, 0],
  warning: [230, 159, 0],
  note: [0, 114, 178],
};

export interface ColourScheme {
  readonly paint: Paint;
  readonly legend: HTMLElement;
}

export function schemeOf(model: PageModel, mode: ColourMode): ColourScheme {
  switch (mode) {
    case 'region':
      return byKind(
        model,
        (b) => regionColour(model.head.regionOfRun[model.run[b]!] ?? 0),
        regionLegend(model),
      );
    case 'flow':
      return byScale(model, model.flow, 'flow, mm³/s');
    case 'speed':
      return byScale(model, model.speed, 'speed of the tip, mm/s');
    case 'tilt':
      return byScale(model, model.tilt, 'tilt of the head, °');
    case 'height':
      return byScale(model, model.beadHeight, 'height of the bead, mm');
    case 'pace':
      return byPace(model);
    case 'finding':
      return byFinding(model);
  }
}

function byKind(model: PageModel, of: (b: number) => Colour, legend: HTMLElement): ColourScheme {
  const { kind } = model;
  return {
    legend,
    paint(b, out, at) {
      const c = kind[b] === TraceKind.deposit ? of(b) : MOVE;
      out[at] = c[0];
      out[at + 1] = c[1];
      out[at + 2] = c[2];
    },
  };
}

/** Steps of a scale that is looked up for every block. */
const SCALE_STEPS = 256;
const table: readonly Colour[] = Array.from({ length: SCALE_STEPS }, (_, i) =>
  viridis(i / (SCALE_STEPS - 1)),
);

function byScale(model: PageModel, values: Float32Array, name: string): ColourScheme {
  const [least, most] = spread(model, values);
  const scale = (SCALE_STEPS - 1) / Math.max(1e-9, most - least);
  return byKind(
    model,
    (b) => table[Math.max(0, Math.min(SCALE_STEPS - 1, Math.round((values[b]! - least) * scale)))]!,
    scaleLegend(name, least, most),
  );
}

/** The first and the last percentile of the beads' values. */
function spread({ kind, count }: PageModel, values: Float32Array): [number, number] {
  const stride = Math.max(1, Math.floor(count / 50_000));
  const taken: number[] = [];
  for (let b = 0; b < count; b += stride) {
    if (kind[b] === TraceKind.deposit) taken.push(values[b]!);
  }
  taken.sort((a, b) => a - b);
  const at = (share: number): number => taken[Math.floor(share * (taken.length - 1))] ?? 0;
  return [at(0.01), Math.max(at(0.99), at(0.01) + 1e-6)];
}

/** The joint nearest to its greatest speed in a block; -1 where none reaches a tenth of it. */
export function paceJoint(model: PageModel, b: number): number {
  const { machine } = model;
  const seconds = model.secondsOf(b);
  let best = -1;
  let most = 0.1;
  for (let j = 0; seconds > 0 && j < machine.joints.length; j++) {
    const share = Math.abs(speedOf(model, b, j, seconds)) / machine.joints[j]!.speed;
    if (share > most) [best, most] = [j, share];
  }
  return best;
}

function byPace(model: PageModel): ColourScheme {
  const { joints } = model.machine;
  const rows = joints.map(({ letter }, j) => swatch(css(regionColour(j)), letter));
  return byKind(
    model,
    (b) => {
      const j = paceJoint(model, b);
      return j < 0 ? REST_COLOUR : regionColour(j);
    },
    legendOf('nearest to its greatest speed', [...rows, swatch(css(REST_COLOUR), 'none over 10%')]),
  );
}

function byFinding(model: PageModel): ColourScheme {
  const marks = new Uint8Array(model.count);
  const order = ['note', 'warning', 'error'];
  for (const finding of model.head.findings) {
    const rank = order.indexOf(finding.severity) + 1;
    for (const b of blocksOf(model, finding)) marks[b] = Math.max(marks[b]!, rank);
  }
  const { kind } = model;
  const legend = legendOf(
    'findings, each with a dot at its place',
    order.toReversed().map((s) => swatch(css(SEVERITY[s]!), s)),
  );
  return {
    legend,
    paint(b, out, at) {
      const mark = marks[b]!;
      const c = mark
        ? SEVERITY[order[mark - 1]!]!
        : kind[b] === TraceKind.deposit
          ? REST_COLOUR
          : MOVE;
      out[at] = c[0];
      out[at + 1] = c[1];
      out[at + 2] = c[2];
    },
  };
}

const swatch = (colour: string, text: string): HTMLElement =>
  el('li', {}, el('i', { class: 'swatch', style: `background:${colour}` }), text);

const legendOf = (name: string, rows: readonly HTMLElement[]): HTMLElement =>
  el('div', {}, el('p', { class: 'legend-name' }, name), el('ul', {}, ...rows));

function regionLegend({ head }: PageModel): HTMLElement {
  return legendOf(
    'region',
    head.report.regions.map((r, i) =>
      swatch(css(regionColour(i)), `${i + 1}, tilt ${tiltWords(r)}°`),
    ),
  );
}

export function scaleLegend(
  name: string,
  least: number,
  most: number,
  colour: (share: number) => Colour = viridis,
): HTMLElement {
  const stops = Array.from({ length: 13 }, (_, i) => css(colour(i / 12))).join(',');
  return el(
    'div',
    { class: 'scale' },
    el('p', { class: 'legend-name' }, name),
    el('i', { class: 'bar', style: `background:linear-gradient(to right,${stops})` }),
    el('p', { class: 'ends' }, el('span', {}, figure(least)), el('span', {}, figure(most))),
  );
}
