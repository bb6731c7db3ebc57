/**
 * Faults planted in a finished program by its text alone, and where each must be found: the lines, in
 * the changed text, from one, at which an error counts.
 */
import { type Text, withWord, word } from './text.js';

export interface Planted {
  readonly lines: readonly string[];
  /** First and last line at which it must be found. */
  readonly at: readonly [number, number];
  /** Layer that is wrong, for the table; 0: the whole region. */
  readonly layer: number;
  /** The machine file is wrong by so much instead, mm along Y. */
  readonly centre?: number;
}

export interface Fault {
  readonly name: string;
  /** Regions in which it is planted: the first, and a later one. */
  readonly regions: 'any' | 'tilted';
  /** Why no check of the program alone can know it. */
  readonly needsPart?: string;
  /** Where it can be planted but not known in the first region or in a later one alone. */
  readonly needsPartIn?: 'first' | 'later';
  /** Code of its finding, where that comes beside other faults without meaning them. */
  readonly shownBy?: string;
  /** @returns nothing where the region has no place for it */
  readonly plant: (text: Text, region: number) => Planted | undefined;
}

/** A layer in the middle of a region, away from caps. */
const middle = (text: Text, region: number): number => Math.round(0.55 * text.layers(region));
/** The next layer but one may be the first to show it. */
const until = (text: Text, region: number, layer: number): number =>
  text.layerSpan(region, Math.min(text.layers(region), layer))[1];

function edited(
  text: Text,
  from: number,
  to: number,
  edit: (line: string, i: number) => string,
): string[] {
  return text.lines.map((l, i) => (i >= from && i < to && !l.startsWith('(') ? edit(l, i) : l));
}

const without = (text: Text, from: number, to: number): string[] => [
  ...text.lines.slice(0, from),
  ...text.lines.slice(to),
];

/** The line with the feed that holds there said in it. */
const withFeed = (text: Text, i: number): string =>
  word(text.lines[i]!, 'F') === undefined
    ? `${text.lines[i]!} F${text.rows[i]!.feed}`
    : text.lines[i]!;

const times = (line: string, factor: number): string =>
  withWord(line, 'E', (e) => (e > 0 ? e * factor : e), 5);

const flow =
  (factor: number) =>
  (text: Text, region: number): Planted => {
    const k = middle(text, region);
    const [from, to] = text.layerSpan(region, k);
    const lines = edited(text, from, to, (l, i) => (text.rows[i]!.lays ? times(l, factor) : l));
    return { lines, at: [from + 1, until(text, region, k + 1)], layer: k };
  };

const regionFlow =
  (factor: number) =>
  (text: Text, region: number): Planted => {
    const [from, to] = text.span(region);
    const lines = edited(text, from, to, (l, i) => (text.rows[i]!.lays ? times(l, factor) : l));
    return { lines, at: [from + 1, to], layer: 0 };
  };

/** Z along the head, so a region is raised along its own direction. */
const raised =
  (by: number, layers: 'all' | 'first') =>
  (text: Text, region: number): Planted => {
    const [from] = text.layerSpan(region, 1);
    const to = layers === 'all' ? text.span(region)[1] : text.layerSpan(region, 1)[1];
    const begin = layers === 'all' && region === 1 ? 0 : from;
    // The way down to the first bead stands before the mark of a later region.
    const down = region === 1 ? begin : text.turnTo(region);
    const lines = edited(text, Math.min(begin, down), to, (l) =>
      withWord(l, 'Z', (z) => z + by, 4),
    );
    return { lines, at: [down + 1, until(text, region, 2)], layer: 1 };
  };

const turned =
  (letter: string, edit: (v: number) => number) =>
  (text: Text, region: number): Planted => {
    const from = region === 1 ? text.span(1)[0] : text.turnTo(region);
    const to = text.span(region)[1];
    // The way there may keep a joint where it stands already: it is said, so that it turns in the air.
    const stands = text.rows[from]!.at['XYZAC'.indexOf(letter)]!;
    const lines = edited(text, from, to, (l, i) =>
      i === from && word(l, letter) === undefined
        ? l.replace(/( F|$)/, ` ${letter}${edit(stands)}$1`)
        : withWord(l, letter, edit, 4),
    );
    // What stands on a region that is turned is off too, but the region itself must be named.
    return { lines, at: [from + 1, to], layer: 0 };
  };

/** One chain of a layer gone, its lines left out. */
function chainsGone(
  text: Text,
  region: number,
  layers: readonly number[],
  gone: (closed: boolean, i: number) => boolean,
): Planted | undefined {
  const cut = new Set<number>();
  const said = new Map<number, string>();
  for (const k of layers) {
    const chains = text.chains(...text.layerSpan(region, k));
    chains.forEach((c, i) => {
      if (!gone(c.closed, i)) return;
      for (let n = c.from; n <= c.to; n++) cut.add(n);
      const next = chains[i + 1];
      if (next) said.set(next.from, withFeed(text, next.from));
    });
  }
  if (cut.size === 0) return undefined;
  const lines = text.lines.map((l, i) => said.get(i) ?? l).filter((_, i) => !cut.has(i));
  const from = text.layerSpan(region, layers[0]!)[0];
  const to = until(text, region, layers.at(-1)! + 1);
  return { lines, at: [from + 1, to], layer: layers[0]! };
}

/** Open beads of so many times the mean length fill a layer where others are filled sparsely. */
const DENSE = 2;

/** The first of the three layers with most fill, at either end of a region, if they close it there. */
function capped(text: Text, region: number): number | undefined {
  const n = text.layers(region);
  const fill = Array.from({ length: n }, (_, k) =>
    text
      .chains(...text.layerSpan(region, k + 1))
      .reduce((sum, c) => sum + (c.closed ? 0 : c.length), 0),
  );
  const mean = fill.reduce((a, b) => a + b, 0) / n;
  const ofThree = (first: number): number => Math.min(...fill.slice(first - 1, first + 2));
  const first = ofThree(1) > ofThree(n - 2) ? 1 : n - 2;
  return ofThree(first) > DENSE * mean ? first : undefined;
}

/** A later region moved before an earlier one; both lead with a way of their own. */
function moved(text: Text, region: number, before: number): Planted {
  const [from, to] = text.span(region);
  const [at] = text.span(before);
  const block = text.lines.slice(from, to);
  const lines = [
    ...text.lines.slice(0, at),
    ...block,
    ...text.lines.slice(at, from),
    ...text.lines.slice(to),
  ];
  return { lines, at: [at + 1, at + block.length], layer: 0 };
}

const SEEN_AS_PLANNED =
  'the program is whole and even without it: nothing in it says that more was to come';

export const faults: readonly Fault[] = [
  {
    name: 'filament 0 from the middle to the end',
    regions: 'any',
    plant: (text, region) => {
      const k = middle(text, region);
      const [from, to] = text.layerSpan(region, k);
      const lines = edited(text, from, text.lines.length, (l) => l.replace(/ ?E-?[\d.]+/, ''));
      return { lines, at: [from + 1, to], layer: k };
    },
  },
  {
    name: 'filament 0 in one layer',
    regions: 'any',
    plant: (text, region) => {
      const k = middle(text, region);
      const [from, to] = text.layerSpan(region, k);
      const lines = edited(text, from, to, (l, i) =>
        text.rows[i]!.lays ? l.replace(/ ?E-?[\d.]+/, '') : l,
      );
      return { lines, at: [from + 1, until(text, region, k + 1)], layer: k };
    },
  },
  {
    name: 'a layer dropped',
    regions: 'any',
    plant: (text, region) => {
      const k = middle(text, region);
      const [from, to] = text.layerSpan(region, k);
      return {
        lines: without(text, from, to),
        at: [from, from + 1 + to - from],
        layer: k,
      };
    },
  },
  {
    name: 'two layers dropped',
    regions: 'any',
    plant: (text, region) => {
      const k = middle(text, region);
      const [from, to] = [text.layerSpan(region, k)[0], text.layerSpan(region, k + 1)[1]];
      return { lines: without(text, from, to), at: [from, from + 1 + to - from], layer: k };
    },
  },
  { name: 'one layer, double flow', regions: 'any', plant: flow(2) },
  { name: 'one layer, half flow', regions: 'any', plant: flow(0.5) },
  { name: 'a region, 1.3 times the flow', regions: 'any', plant: regionFlow(1.3) },
  { name: 'a region, twice the flow', regions: 'any', plant: regionFlow(2) },
  { name: 'a region, half the flow', regions: 'any', plant: regionFlow(0.5) },
  { name: 'region (program) 0.3 mm too high', regions: 'any', plant: raised(0.3, 'all') },
  { name: 'region (program) 0.3 mm too low', regions: 'any', plant: raised(-0.3, 'all') },
  { name: 'first layer 0.18 mm too high', regions: 'any', plant: raised(0.18, 'first') },
  { name: 'first layer 0.18 mm too low', regions: 'any', plant: raised(-0.18, 'first') },
  {
    name: 'regions in swapped order',
    regions: 'any',
    plant: (text, region) => {
      const later = Math.max(2, region);
      // Either of the two may be where it hits the other.
      const { lines, at } = moved(text, later, later - 1);
      return { lines, at: [at[0], text.span(later)[1]], layer: 0 };
    },
  },
  {
    name: 'a region printed before its base',
    regions: 'tilted',
    plant: (text, region) => moved(text, region, 1),
  },
  { name: 'wrong sign of tilt', regions: 'tilted', plant: turned('A', (a) => -a) },
  { name: 'tilt off by 1 deg', regions: 'any', plant: turned('A', (a) => a + 1) },
  { name: 'C off by 5 deg', regions: 'tilted', plant: turned('C', (c) => c + 5) },
  {
    name: 'a region shifted by 0.3 mm along its layers',
    regions: 'any',
    needsPart:
      'along its layers it lies on its base all the same; a base may be wider than what stands on it',
    plant: (text, region) => {
      const [from, to] = text.span(region);
      const begin = region === 1 ? from : text.turnTo(region);
      const lines = edited(text, begin, to, (l) => withWord(l, 'X', (x) => x + 0.3, 4));
      return { lines, at: [begin + 1, to], layer: 0 };
    },
  },
  {
    name: 'centre of the tilting axis off by 0.4 mm',
    regions: 'tilted',
    plant: (text, region) => ({
      lines: text.lines,
      at: [text.turnTo(region) + 1, text.span(region)[1]],
      layer: 0,
      centre: 0.4,
    }),
  },
  {
    name: 'a layer repeated',
    regions: 'any',
    plant: (text, region) => {
      const k = middle(text, region);
      const [from, to] = text.layerSpan(region, k);
      const block = text.lines.slice(from, to);
      return {
        lines: [...text.lines.slice(0, to), ...block, ...text.lines.slice(to)],
        at: [from + 1, to + block.length],
        layer: k,
      };
    },
  },
  {
    name: 'layers in reversed order',
    regions: 'any',
    plant: (text, region) => {
      const n = text.layers(region);
      const spans = Array.from({ length: n }, (_, k) => text.layerSpan(region, k + 1));
      const from = spans[0]![0];
      const to = spans.at(-1)![1];
      const lines = [
        ...text.lines.slice(0, from),
        ...spans.reverse().flatMap(([a, b]) => text.lines.slice(a, b)),
        ...text.lines.slice(to),
      ];
      return { lines, at: [text.span(region)[0], to], layer: 0 };
    },
  },
  {
    name: 'Z not raised between two layers',
    regions: 'any',
    plant: (text, region) => {
      const k = middle(text, region);
      const [from, to] = text.layerSpan(region, k);
      const z = (i: number): number =>
        text.rows[text.chains(...text.layerSpan(region, i))[0]!.from]!.at[2]!;
      const rise = z(k) - z(k - 1);
      const lines = edited(text, from, to, (l) => withWord(l, 'Z', (v) => v - rise, 4));
      return { lines, at: [from + 1, until(text, region, k + 1)], layer: k };
    },
  },
  {
    name: 'a retraction missing',
    regions: 'any',
    plant: (text, region) => {
      const k = middle(text, region);
      const at = text.find((l) => /E-/.test(l), text.layerSpan(region, k)[0], text.lines.length);
      const lines = text.lines.map((l, i) => (i === at ? l.replace(/ ?E-[\d.]+/, '') : l));
      return { lines, at: [at + 1, at + 40], layer: k };
    },
  },
  {
    name: 'a retraction twice',
    regions: 'any',
    shownBy: 'verify/unprimed',
    plant: (text, region) => {
      const k = middle(text, region);
      const at = text.find((l) => /E-/.test(l), text.layerSpan(region, k)[0], text.lines.length);
      const lines = text.lines.map((l, i) => (i === at ? withWord(l, 'E', (e) => 2 * e, 5) : l));
      return { lines, at: [at + 1, at + 40], layer: k };
    },
  },
  {
    name: 'filament words absolute where relative ones count',
    regions: 'any',
    plant: (text, region) => {
      const k = middle(text, region);
      const [from, to] = text.layerSpan(region, k);
      let sum = 0;
      const lines = edited(text, from, to, (l) => withWord(l, 'E', (e) => (sum += e), 5));
      return { lines, at: [from + 1, to + 10], layer: k };
    },
  },
  {
    name: 'decimal point lost in E',
    regions: 'any',
    plant: (text, region) => {
      const k = middle(text, region);
      const at = text.find(
        (_, r, i) => r.lays && text.length(i) > 2,
        text.layerSpan(region, k)[0],
        text.lines.length,
      );
      const lines = text.lines.map((l, i) => (i === at ? l.replace(/E0\.0*/, 'E') : l));
      return { lines, at: [at + 1, at + 1], layer: k };
    },
  },
  {
    name: 'decimal point lost in X',
    regions: 'any',
    plant: (text, region) => {
      const k = middle(text, region);
      const at = text.find(
        (l, r) => r.lays && /X-?\d+\.\d/.test(l),
        text.layerSpan(region, k)[0],
        text.lines.length,
      );
      const lines = text.lines.map((l, i) =>
        i === at ? l.replace(/X(-?\d+)\.(\d+)/, 'X$1$2') : l,
      );
      return { lines, at: [at + 1, at + 2], layer: k };
    },
  },
  {
    name: 'a contour dropped',
    regions: 'any',
    plant: (text, region) => {
      const k = middle(text, region);
      let n = 0;
      return chainsGone(text, region, [k], (closed) => closed && n++ === 0);
    },
  },
  {
    name: 'fill of a layer dropped',
    regions: 'any',
    plant: (text, region) => chainsGone(text, region, [middle(text, region)], (closed) => !closed),
  },
  {
    name: 'caps dropped',
    regions: 'any',
    needsPart:
      'a region open at its end is a shape like any other: nothing says that it was to be closed',
    plant: (text, region) => {
      const first = capped(text, region);
      if (first === undefined) return undefined;
      return chainsGone(text, region, [first, first + 1, first + 2], (closed) => !closed);
    },
  },
  {
    name: 'the last three layers missing',
    regions: 'any',
    needsPart: SEEN_AS_PLANNED,
    plant: (text, region) => {
      const n = text.layers(region);
      const [from, to] = [text.layerSpan(region, n - 2)[0], text.layerSpan(region, n)[1]];
      return {
        lines: without(text, from, to),
        at: [text.layerSpan(region, n - 4)[0], from + 60],
        layer: n - 2,
      };
    },
  },
  {
    name: 'a region absent',
    regions: 'any',
    needsPartIn: 'later',
    needsPart: `${SEEN_AS_PLANNED}, unless another region stands on it`,
    plant: (text, region) => {
      const [from, to] = text.span(region);
      return { lines: without(text, from, to), at: [1, text.lines.length], layer: 0 };
    },
  },
  {
    name: 'a region twice',
    regions: 'any',
    plant: (text, region) => {
      const [from, to] = text.span(region);
      const lines = [
        ...text.lines.slice(0, to),
        ...text.lines.slice(from, to),
        ...text.lines.slice(to),
      ];
      return { lines, at: [to + 1, to + to - from], layer: 0 };
    },
  },
  {
    name: 'a bead laid twice over the same way',
    regions: 'any',
    plant: (text, region) => {
      const k = middle(text, region);
      const chain = text
        .chains(...text.layerSpan(region, k))
        .find((c) => c.closed && c.length > 10);
      if (!chain) return undefined;
      const again = text.lines.slice(chain.from, chain.to + 1);
      const lines = [
        ...text.lines.slice(0, chain.to + 1),
        ...again,
        ...text.lines.slice(chain.to + 1),
      ];
      return { lines, at: [chain.from + 1, chain.to + 1 + again.length], layer: k };
    },
  },
  {
    name: 'a way without material lays',
    regions: 'any',
    plant: (text, region) => {
      const from = text.layerSpan(region, Math.round(0.3 * text.layers(region)))[0];
      const at = text.find(
        (l, r, i) => /[XY]-?\d/.test(l) && !r.lays && !/[ZAC]-?\d/.test(l) && text.length(i) > 6,
        from,
        text.span(region)[1],
      );
      const e = (0.04 * text.length(at)).toFixed(5);
      const lines = text.lines.map((l, i) => (i === at ? l.replace(/( F|$)/, ` E${e}$1`) : l));
      return { lines, at: [at + 1, at + 6], layer: text.rows[at]!.layer };
    },
  },
  {
    name: 'feed words ten times too fast',
    regions: 'any',
    plant: (text, region) => {
      const k = middle(text, region);
      const [from, to] = text.layerSpan(region, k);
      const lines = edited(text, from, to, (l) => withWord(l, 'F', (f) => 10 * f, 3));
      return { lines, at: [from + 1, to], layer: k };
    },
  },
  {
    name: 'a transfer too low',
    regions: 'tilted',
    plant: (text, region) => {
      const [from] = text.span(region);
      // The highest stand of the head on its way is left out.
      let top = from;
      for (let i = from; i < text.turnTo(region); i++) {
        if (text.rows[i]!.at[2]! > text.rows[top]!.at[2]!) top = i;
      }
      const lines = text.lines.map((l, i) => (i === top ? withWord(l, 'Z', (z) => z - 40, 4) : l));
      return { lines, at: [top + 1, text.turnTo(region) + 4], layer: 0 };
    },
  },
  {
    name: 'inches (G20) from here on',
    regions: 'any',
    plant: (text, region) => {
      const [from] = text.layerSpan(region, middle(text, region));
      const lines = [...text.lines.slice(0, from), 'G20', ...text.lines.slice(from)];
      return { lines, at: [from + 1, from + 6], layer: middle(text, region) };
    },
  },
  {
    name: 'cut off at 60% of a region',
    regions: 'any',
    plant: (text, region) => {
      const [from, to] = text.span(region);
      const at = Math.round(from + 0.6 * (to - from));
      return { lines: text.lines.slice(0, at), at: [1, at], layer: text.rows[at]!.layer };
    },
  },
  {
    name: 'X mirrored',
    regions: 'any',
    needsPartIn: 'first',
    needsPart: 'a mirrored part is a part like any other',
    plant: (text, region) => {
      const [from, to] = text.span(region);
      const begin = region === 1 ? from : text.turnTo(region);
      const lines = edited(text, begin, to, (l) => withWord(l, 'X', (x) => -x, 4));
      return { lines, at: [begin + 1, to], layer: 0 };
    },
  },
];
