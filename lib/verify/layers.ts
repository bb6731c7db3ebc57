/**
 * How high each bead is. A program states no heights, so they follow from the levels of the tip along the
 * head's direction: material laid at one level without another in between is a layer, and its height is the
 * step from the layer before in the same run. Where there is no such step (the first layer of a run) or the
 * metered material could not fill it (a layer is missing), the usual step of the run counts; on the table
 * the height of the tip over the face. Where the head turns while it lays there are no levels
 * (turning-heights.ts).
 */
import { lays } from './laid-pieces.js';
import { type Trace, TraceKind } from './trace.js';
import { type TurningHeights, turningHeights } from './turning-heights.js';

/** Levels that differ by less are one layer, mm. */
const LAYER_LEVEL = 0.02;
/** Steps beyond this many bores of the nozzle are no layers. */
const TALLEST_LAYER = 1.5;
/** A layer that is this much higher than usual must have the material for it. */
const HIGHER = 1.4;

/** Height of each block's bead, mm; 0 where nothing is laid. */
export interface Heights {
  readonly height: Float64Array;
  /** Length-weighted median over the program, mm; NaN if nothing is laid. */
  readonly usual: number;
  /** Length-weighted median of the width at that height: section over height, mm. */
  readonly width: number;
  /** Blocks that lay material, in groups of one level; first block of each. */
  readonly layerStart: readonly number[];
  /** Of runs in which the head keeps its direction. */
  readonly layers: readonly LaidLayer[];
  /** Where the head turns somewhere while it lays: all that is laid, and what lies under it. */
  readonly turned?: TurningHeights;
}

/** Material laid at one level of one run without another level in between. */
export interface LaidLayer {
  /** First and last block that lay it. */
  readonly first: number;
  last: number;
  /** Along the run's direction, mm. */
  readonly level: number;
  /** Over the layer before in its run; NaN for the first. */
  readonly step: number;
  readonly run: number;
  readonly onTable: boolean;
  /** mm, mm3 */
  length: number;
  volume: number;
}

export function heightsOf(trace: Trace, bore: number): Heights {
  const layers = layersOf(trace);
  const fits = (step: number): boolean => step > LAYER_LEVEL && step < TALLEST_LAYER * bore;
  const steps = layers.filter((l) => fits(l.step));
  const whole = median(steps.map((l) => [l.step, l.length]));
  const usual = Number.isNaN(whole) ? firstHeight(layers, bore) : whole;
  const byRun = new Map<number, number>();
  for (const run of trace.runStart.keys()) {
    const own = median(steps.filter((l) => l.run === run).map((l) => [l.step, l.length]));
    byRun.set(run, Number.isNaN(own) ? usual : own);
  }
  const height = new Float64Array(trace.kind.length);
  for (const layer of layers) {
    const h = heightOf(layer, byRun.get(layer.run)!, bore);
    for (let b = layer.first; b <= layer.last; b++) {
      if (trace.kind[b] === TraceKind.deposit) height[b] = h;
    }
  }
  const widths: [number, number][] = layers.map((l) => [
    l.volume / l.length / height[l.first]!,
    l.length,
  ]);
  const layerStart = layers.map((l) => l.first);
  if (!trace.turning.includes(1)) {
    return { height, usual, width: median(widths), layerStart, layers };
  }
  const turned = turningHeights(trace, height, Number.isNaN(usual) ? bore / 2 : usual, bore);
  const all: [number, number][] = steps.map((l) => [l.step, l.length]);
  trace.kind.forEach((_, b) => {
    if (!lays(trace, b) || trace.turning[trace.run[b]!] !== 1) return;
    all.push([height[b]!, trace.length[b]!]);
    widths.push([trace.volume[b]! / trace.length[b]! / height[b]!, trace.length[b]!]);
  });
  return { height, usual: median(all), width: median(widths), layerStart, layers, turned };
}

function heightOf(layer: LaidLayer, usual: number, bore: number): number {
  const rise = isFirst(layer, bore) ? layer.level : layer.step;
  if (!(rise > LAYER_LEVEL && rise < TALLEST_LAYER * bore)) return usual;
  const section = layer.volume / layer.length;
  // What is higher than wide would not reach down: the strand is round and thinner than the rise.
  return rise > HIGHER * usual && section < rise * rise ? usual : rise;
}

/** A layer on the table, and not under its face. */
const isFirst = ({ onTable, level }: LaidLayer, bore: number): boolean =>
  onTable && level > LAYER_LEVEL && level < TALLEST_LAYER * bore;

const firstHeight = (layers: readonly LaidLayer[], bore: number): number => {
  const first = layers.find((l) => isFirst(l, bore));
  return first ? first.level : layers.length ? bore / 2 : NaN;
};

function layersOf(trace: Trace): LaidLayer[] {
  const { kind, tip, direction, run, runStart, turning, length, volume } = trace;
  const layers: LaidLayer[] = [];
  let layer: LaidLayer | undefined;
  for (let b = Math.max(1, runStart[0] ?? kind.length); b < kind.length; b++) {
    if (kind[b] !== TraceKind.deposit || turning[run[b]!] === 1) continue;
    const at = 3 * runStart[run[b]!]!;
    const [dx, dy, dz] = [direction[at]!, direction[at + 1]!, direction[at + 2]!];
    const [x, y, z] = [0, 1, 2].map((c) => (tip[3 * b + c]! + tip[3 * b - 3 + c]!) / 2) as [
      number,
      number,
      number,
    ];
    const level = x * dx + y * dy + z * dz;
    const same = layer?.run === run[b] && Math.abs(level - layer!.level) < LAYER_LEVEL;
    if (!layer || !same) {
      const step = layer?.run === run[b] ? level - layer!.level : NaN;
      const onTable = Number.isNaN(step) && dz > 0.9999;
      layer = { first: b, last: b, level, step, run: run[b]!, onTable, length: 0, volume: 0 };
      layers.push(layer);
    }
    layer.last = b;
    layer.length += length[b]!;
    layer.volume += volume[b]!;
  }
  return layers;
}

/** Of values with weights; NaN for none. */
export const median = (weighted: Weighted): number => quantile(weighted, 0.5);

/** The value up to which a share of the weight lies; NaN for none. */
export function quantile(weighted: Weighted, share: number): number {
  const sorted = weighted.filter(([v]) => Number.isFinite(v)).sort((a, b) => a[0] - b[0]);
  const most = share * sorted.reduce((sum, [, w]) => sum + w, 0);
  let sum = 0;
  for (const [value, weight] of sorted) {
    sum += weight;
    if (sum >= most) return value;
  }
  return NaN;
}

type Weighted = readonly (readonly [number, number])[];
