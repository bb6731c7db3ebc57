/** Single beads that are missing, laid twice or laid where none is to be. */
import { middle, until, withFeed } from './edits.js';
import type { Fault, Planted } from './fault.js';
import { type Text } from './text.js';

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

export const beads: readonly Fault[] = [
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
];
