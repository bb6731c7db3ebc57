/** Layers and regions that are left out, laid twice or in the wrong order. */
import { middle, without } from './edits.js';
import type { Fault, Planted } from './fault.js';
import { type Text } from './text.js';

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

export const order: readonly Fault[] = [
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
  {
    name: 'a region absent',
    // Nothing stands at its place: lines near it may be far off, so the finding itself must mean it.
    shownBy: [
      'verify/missing',
      'verify/base-in-air',
      'verify/layer-in-air',
      'verify/first-on-base',
    ],
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
    name: 'cut off at 60% of a region',
    regions: 'any',
    plant: (text, region) => {
      const [from, to] = text.span(region);
      const at = Math.round(from + 0.6 * (to - from));
      return { lines: text.lines.slice(0, at), at: [at, at], layer: text.rows[at]!.layer };
    },
  },
];
