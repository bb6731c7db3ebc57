/**
 * Every layer of every run judged by itself, from the program alone: whether the filament fills the room
 * between its beads over the height that the level rises, whether it has the beads that the layers about it
 * have, and whether beads lie on each other.
 *
 * The height that the filament makes is fullness times the assumed height; where no beads lie side by side,
 * the width compared with that of the layers about it is used instead. If that height and the rise of the
 * level differ, whichever is unlike the neighbours is at fault: the level (a layer was left out) or the
 * filament. A layer above another cap, of thin walls or of open fill is no fault: fullness does not depend
 * on what is planned, and a width counts only where the layers on both sides agree.
 */
import type { CheckRules } from './rules.js';
import { type LayerLook, looksOf } from './layer-look.js';
import { median } from './layers.js';
import type { Print } from './print.js';
import type { Tally } from './tally.js';
import { type Trace, TraceKind } from './trace.js';
import { placeOf } from './walk.js';
import { WAY_MARK_SPACING } from './bead-spacing.js';

/** Least number of pairs of beads that say something about a layer. */
const PAIRS = 8;
/** From this many pairs on, though they are not sure, they say more than widths do. */
const FEW_PAIRS = 3;
/** Least share of the places looked at: open fill comes near contours here and there. */
const LEAST_SIDES = 0.15;
/** Layers to either side with which one is compared. */
const NEIGHBOUR_LAYERS = 3;
/** Open fill leaves up to this much of the room between its beads before it no longer counts as closed. */
const OPEN_FILL = 0.6;
/** Where no beads lie side by side, a width must be off by this many bounds: walls vary. */
const LONE_BOUNDS = 2;
/**
 * Where a layer grows beyond the one under it, on a base that was cut at a slant, its beads lie on the
 * stair of that: filament may fill up to half a layer there.
 */
const STAIR_FILL = 0.5;
/** Neighbours are alike within this factor. */
const LIKE_LAYER = 1.2;
const LIKE_LONG = 1.5;
/**
 * Neighbours have this many times what a layer lacks: fill turns at other places in each, contours do not.
 */
const LACK_FACTORS = { closed: LIKE_LAYER, open: 2 } as const;
/**
 * The same where they differ among themselves, by no more than NEIGHBOUR_SPREAD: a change from caps to none
 * is no lack.
 */
const GONE_FACTOR = 4;
const NEIGHBOUR_SPREAD = 2;
/** Share of a run's layers from which on the run is at fault and not its layers one by one. */
const WHOLE_RUN = 0.5;
const LEAST_LAYERS = 4;
/** Share of a layer that hangs. */
const HANGS = 0.5;
/** Rises of the level that are no layers, in bores, and shorter layers than this, mm, are not judged. */
const TALLEST_RISE = 4;
const SHORTEST = 5;

/** A layer of a run with what is known of it: its number in the run, and its rise, mm. */
interface LayerStep {
  readonly look: LayerLook;
  readonly number: number;
  readonly of: number;
  /** NaN where the level does not rise from the layer before. */
  readonly rise: number;
  /** Height that the filament makes, mm; NaN where nothing says so. */
  readonly made: number;
  /** Whether that follows from beads side by side. */
  readonly sure: boolean;
  /** Share of its length that the layer under it does not have. */
  readonly grown: number;
}

export function judgeLayers(
  trace: Trace,
  print: Print,
  bore: number,
  bounds: CheckRules,
  tally: Tally,
): LayerLook[] {
  const looks = looksOf(trace, print.heights, bore);
  const runs = new Map<number, LayerLook[]>();
  for (const look of looks) {
    const run = runs.get(look.layer.run) ?? [];
    runs.set(look.layer.run, run);
    run.push(look);
  }
  for (const run of runs.values()) {
    const steps = stepsOf(run, bore);
    reportHeights(trace, steps, bounds, tally);
    reportLacking(trace, steps, bounds, tally);
    reportTwice(trace, steps, bounds, tally);
  }
  reportWide(trace, print, bore, bounds, tally);
  reportHanging(trace, print, bounds, tally);
  return looks;
}

/** The layers of one run, in order. */
function stepsOf(run: readonly LayerLook[], bore: number): LayerStep[] {
  const rises = run.map(({ layer }) =>
    layer.step > 0 && layer.step < TALLEST_RISE * bore ? layer.step : NaN,
  );
  return run.map((look, i) => {
    const rise = rises[i]!;
    const { pairs, height, layer } = look;
    const sure = pairs >= Math.max(PAIRS, (LEAST_SIDES * 2 * layer.length) / WAY_MARK_SPACING);
    const full = pairs >= FEW_PAIRS ? fullnessOf(look, run, i) : widthShare(run, i);
    const grown = Math.max(0, 1 - (run[i - 1]?.layer.length ?? 0) / look.layer.length);
    return { look, number: i + 1, of: run.length, rise, made: full * height, sure, grown };
  });
}

/** Fullness of a layer; 1 where beads overlap or lie apart as open fill does. */
function fullnessOf(
  { low, middle, high }: LayerLook,
  run: readonly LayerLook[],
  i: number,
): number {
  if (low > 1) return low;
  if (high >= 1) return 1;
  const others = about(run, i).filter(({ pairs }) => pairs >= PAIRS);
  const usual = median(others.map((l) => [l.high, 1]));
  // Fill that is dense and open in the layers about it too.
  const open = high > OPEN_FILL && !(usual > high * LIKE_LAYER);
  return open ? 1 : Math.min(high, middle);
}

/** Width over that of the layers about it, where those agree; NaN otherwise. */
function widthShare(run: readonly LayerLook[], i: number): number {
  const { width, layer } = run[i]!;
  if (layer.length < SHORTEST) return NaN;
  const [under, over] = [run[i - 1], run[i + 1]];
  if (!under || !over || !(factor(under.width, over.width) < LIKE_LAYER)) return NaN;
  // Along a ridge a loop becomes one wider bead, and that becomes narrower again.
  if (!(factor(under.layer.length, over.layer.length) < LIKE_LONG)) return NaN;
  return width / median(about(run, i).map((l) => [l.width, 1]));
}

const about = (run: readonly LayerLook[], i: number): LayerLook[] => [
  ...run.slice(Math.max(0, i - NEIGHBOUR_LAYERS), i),
  ...run.slice(i + 1, i + 1 + NEIGHBOUR_LAYERS),
];

function reportHeights(
  trace: Trace,
  steps: readonly LayerStep[],
  bounds: CheckRules,
  tally: Tally,
): void {
  const judged = steps.filter(({ rise, made }, i) => i > 0 && rise > 0 && made > 0);
  const off = judged.filter((step) => isOff(step, bounds));
  if (judged.length >= LEAST_LAYERS && off.length >= WHOLE_RUN * judged.length) {
    const share = median(off.map(({ rise, made }) => [made / rise, 1]));
    const { layer } = steps[0]!.look;
    tally.add('verify/run-flow', 'error', Math.abs(share - 1), () => ({
      message: `${run(steps[0]!)}: in ${off.length} of ${judged.length} layers the filament fills ${share.toFixed(2)} of the room between the beads (the limit is ${limits(bounds)})`,
      at: placeOf(trace, layer.first),
    }));
    return;
  }
  for (const step of off) reportHeight(trace, steps, step, bounds, tally);
}

const isOff = (
  { look, rise, made, sure, grown }: LayerStep,
  { layer, missing }: CheckRules,
): boolean => {
  const room = sure ? layer : LONE_BOUNDS * layer;
  // In a tip beads vary and run together: what is too much or too little is at least that long a bead.
  if (Math.abs(made / rise - 1) * look.layer.length < missing) return false;
  return made > rise * (1 + room + STAIR_FILL * grown) || made < rise * (1 - room);
};

function reportHeight(
  trace: Trace,
  steps: readonly LayerStep[],
  step: LayerStep,
  bounds: CheckRules,
  tally: Tally,
): void {
  const { rise, made, look, number } = step;
  const near = steps.slice(Math.max(0, number - 1 - NEIGHBOUR_LAYERS), number + NEIGHBOUR_LAYERS);
  const usual = median(near.filter((s) => s !== step).map((s) => [s.rise, 1]));
  const levelIsOff = factor(rise, usual) > factor(made, usual);
  const by = `${where(step)}: the level rises by ${rise.toFixed(3)} mm (usual here: ${usual.toFixed(3)} mm), the filament makes ${made.toFixed(3)} mm of height`;
  const share = made / rise;
  const message = levelIsOff
    ? `${by}: ${(rise / usual).toFixed(1)} layers in one step, the limit is ${(1 + bounds.layer).toFixed(2)}`
    : `${by}: ${share.toFixed(2)} of what the room between the beads takes, the limit is ${limits(bounds)}`;
  const code = levelIsOff ? 'verify/level-step' : 'verify/layer-flow';
  tally.add(code, 'error', factor(made, rise), () => ({
    message,
    at: placeOf(trace, look.layer.first),
  }));
}

/**
 * Beads that two layers under and over one have, and this one has not. Layers may grow or shrink on their
 * way, as on a base that was cut at a slant: each step is judged by itself. Where they take turns, as caps do
 * whose lines turn from layer to layer, most of what the least of them has must be gone.
 */
function reportLacking(
  trace: Trace,
  steps: readonly LayerStep[],
  bounds: CheckRules,
  tally: Tally,
): void {
  for (let i = 2; i + 2 < steps.length; i++) {
    for (const kind of ['closed', 'open'] as const) {
      const own = steps[i]!.look[kind];
      const others = [i - 2, i - 1, i + 1, i + 2].map((k) => steps[k]!.look[kind]);
      const [least, most] = [Math.min(...others), Math.max(...others)];
      const times = areAlike(others) ? LACK_FACTORS[kind] : GONE_FACTOR;
      if (most > NEIGHBOUR_SPREAD * least || own * times > least || least - own < bounds.missing)
        continue;
      const what = kind === 'closed' ? 'closed beads (contours)' : 'open beads (fill)';
      tally.add('verify/layer-lacks', 'error', least - own, () => ({
        message: `${where(steps[i]!)}: ${own.toFixed(1)} mm of ${what}, the two layers under it and over it have ${least.toFixed(1)} to ${most.toFixed(1)} mm (the limit is ${bounds.missing} mm less)`,
        at: placeOf(trace, steps[i]!.look.layer.first),
      }));
    }
  }
}

function reportTwice(
  trace: Trace,
  steps: readonly LayerStep[],
  bounds: CheckRules,
  tally: Tally,
): void {
  for (const step of steps) {
    const { twice, twiceAt } = step.look;
    if (!(twice > bounds.twice)) continue;
    tally.add('verify/laid-twice', 'error', twice, () => ({
      message: `${where(step)}: ${twice.toFixed(1)} mm of bead are laid where a bead of this layer lies already (the limit is ${bounds.twice} mm)`,
      at: placeOf(trace, twiceAt),
    }));
  }
}

/** Single beads that would be wider than any nozzle spreads them; shorter ones than a bore spread to that. */
function reportWide(
  trace: Trace,
  { heights }: Print,
  bore: number,
  { widest }: CheckRules,
  tally: Tally,
): void {
  const { kind, volume, length } = trace;
  for (let b = 0; b < kind.length; b++) {
    if (kind[b] !== TraceKind.deposit) continue;
    const width = volume[b]! / Math.max(length[b]!, bore) / heights.height[b]!;
    if (width <= widest * bore) continue;
    tally.add('verify/bead-wide', 'error', width, () => ({
      message: `the filament of this block makes a bead ${width.toFixed(2)} mm wide at a height of ${heights.height[b]!.toFixed(3)} mm (the limit is ${widest} bores, ${(widest * bore).toFixed(2)} mm)`,
      at: placeOf(trace, b),
    }));
  }
}

/** Layers that mostly hang: nothing is under them at all. */
function reportHanging(
  trace: Trace,
  { heights, stretches }: Print,
  { hang }: CheckRules,
  tally: Tally,
): void {
  const { layers } = heights;
  const hangs = new Map<number, number>();
  let at = 0;
  // Runs in which the head turns have no levels.
  const level = stretches.hanging.filter(({ block }) => trace.turning[trace.run[block]!] !== 1);
  for (const { block, length } of level.sort((a, b) => a.block - b.block)) {
    while (layers[at]!.last < block) at++;
    hangs.set(at, (hangs.get(at) ?? 0) + length);
  }
  for (const [k, mm] of hangs) {
    const { length, first, run: of } = layers[k]!;
    if (mm <= hang || mm < HANGS * length) continue;
    tally.add('verify/layer-in-air', 'error', mm, () => ({
      message: `run ${of + 1}, the layer that begins here: ${mm.toFixed(1)} of its ${length.toFixed(1)} mm of bead hang in the air (the limit is ${hang} mm where half of it or more hangs)`,
      at: placeOf(trace, first),
    }));
  }
}

/** Lengths in two layers under and two over one; across that one they may differ by two steps. */
const areAlike = ([a, b, c, d]: readonly number[]): boolean =>
  factor(a!, b!) < LIKE_LAYER && factor(b!, c!) < LIKE_LAYER ** 2 && factor(c!, d!) < LIKE_LAYER;

const factor = (a: number, b: number): number => Math.max(a, b) / Math.min(a, b);
const limits = ({ layer }: CheckRules): string =>
  `${(1 - layer).toFixed(2)} to ${(1 + layer).toFixed(2)}`;
const run = ({ look }: LayerStep): string => `run ${look.layer.run + 1}`;
const where = (step: LayerStep): string => `${run(step)}, layer ${step.number} of ${step.of}`;
