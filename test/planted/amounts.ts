/** Too much filament, too little, or none. */
import { edited, middle, until } from './edits.js';
import type { Fault, Planted } from './fault.js';
import { type Text, withWord } from './text.js';

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

export const amounts: readonly Fault[] = [
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
  { name: 'one layer, double flow', regions: 'any', plant: flow(2) },
  { name: 'one layer, half flow', regions: 'any', plant: flow(0.5) },
  { name: 'a region, 1.3 times the flow', regions: 'any', plant: regionFlow(1.3) },
  { name: 'a region, twice the flow', regions: 'any', plant: regionFlow(2) },
  { name: 'a region, half the flow', regions: 'any', plant: regionFlow(0.5) },
];
