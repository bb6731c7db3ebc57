/** What was laid and what was left out, layer by layer, and the findings that follow. */
import type { Finding, Place } from '../base/fault.js';

/** One row per planned layer. */
export interface LayerFigures {
  /** Area of the section, mm2. */
  readonly section: Float64Array;
  /** Area closed by caps inside the contours, mm2. */
  readonly cap: Float64Array;
  /** Area filled with the chosen density, mm2. */
  readonly fill: Float64Array;
  /** Area too narrow for the narrowest bead and left out, mm2. */
  readonly dropped: Float64Array;
  /** Middle of the widest place left out, part frame, packed xyz, mm; NaN where nothing is. */
  readonly droppedAt: Float64Array;
  /**
   * Volume that the layer is to have, from its areas alone, mm3: the section without what is left out,
   * open area counted by the density; flow factor included.
   */
  readonly wanted: Float64Array;
  /** Volume that is laid, brim apart, mm3: sum of length x bead section x flow factor. */
  readonly laid: Float64Array;
  readonly brim: Float64Array;
}

const names = ['section', 'cap', 'fill', 'dropped', 'droppedAt', 'wanted', 'laid', 'brim'] as const;

export function emptyFigures(layers: number): LayerFigures {
  const one = (): Float64Array => new Float64Array(layers);
  return {
    section: one(),
    cap: one(),
    fill: one(),
    dropped: one(),
    droppedAt: new Float64Array(3 * layers).fill(NaN),
    wanted: one(),
    laid: one(),
    brim: one(),
  };
}

export function joinedFigures(list: readonly LayerFigures[]): LayerFigures {
  const out: Partial<Record<keyof LayerFigures, Float64Array>> = {};
  for (const name of names) {
    const all = new Float64Array(list.reduce((n, f) => n + f[name].length, 0));
    list.reduce((at, f) => (all.set(f[name], at), at + f[name].length), 0);
    out[name] = all;
  }
  return out as LayerFigures;
}

/** What is asked of a region's figures. */
export interface RegionFigures {
  readonly figures: LayerFigures;
  /** Number of the first layer. */
  readonly from: number;
  /** Narrowest bead, mm. */
  readonly least: number;
  /** What is left out in a layer counts from this area on, mm2: a bead's square. */
  readonly worth: number;
}

/** What was left out in the regions of a part, in printing order: one finding of a kind, with its worst place. */
export function pathFindings(regions: readonly RegionFigures[]): Finding[] {
  const narrow = regions.flatMap(({ figures, worth }, region) =>
    rows(figures.dropped, (area) => area >= worth).map((k) => ({ region, k })),
  );
  const bare = regions.flatMap(({ figures: { section, laid }, worth }, region) =>
    rows(section, (area, k) => area >= worth && laid[k] === 0).map((k) => ({ region, k })),
  );
  const out: Finding[] = [];
  if (narrow.length) {
    const areaOf = ({ region, k }: Row): number => regions[region]!.figures.dropped[k]!;
    const worst = narrow.reduce((a, b) => (areaOf(b) > areaOf(a) ? b : a));
    const sum = narrow.reduce((total, row) => total + areaOf(row), 0);
    const { least } = regions[worst.region]!;
    out.push({
      code: 'paths/too-narrow',
      severity: 'warning',
      message: `${sum.toFixed(2)} mm2 of section in ${layersText(narrow.length)} are too narrow for the narrowest bead, ${Number(least.toPrecision(6))} mm, and are left out; most in ${rowText(regions, worst)}: ${areaOf(worst).toFixed(2)} mm2`,
      at: placeOf(regions, worst),
    });
  }
  const [first] = bare;
  if (first) {
    out.push({
      code: 'paths/bare-layer',
      severity: 'warning',
      message: `${layersText(bare.length)} with a section but no place for a bead; the first is ${rowText(regions, first)} with ${regions[first.region]!.figures.section[first.k]!.toFixed(2)} mm2`,
      at: placeOf(regions, first),
    });
  }
  return out;
}

/** Row k of a region's figures. */
interface Row {
  readonly region: number;
  readonly k: number;
}

const layersText = (n: number): string => (n === 1 ? '1 layer' : `${n} layers`);

function rows(values: Float64Array, want: (value: number, k: number) => boolean): number[] {
  const out: number[] = [];
  values.forEach((value, k) => {
    if (want(value, k)) out.push(k);
  });
  return out;
}

const rowText = (regions: readonly RegionFigures[], { region, k }: Row): string =>
  `layer ${regions[region]!.from + k + 1}${regions.length > 1 ? ` of region ${region + 1}` : ''}`;

function placeOf(regions: readonly RegionFigures[], { region, k }: Row): Place {
  const { from, figures } = regions[region]!;
  const { droppedAt } = figures;
  const point = [droppedAt[3 * k]!, droppedAt[3 * k + 1]!, droppedAt[3 * k + 2]!] as const;
  const at = { region, layer: from + k };
  return Number.isNaN(point[0]) ? at : { ...at, point, frame: 'part' };
}
