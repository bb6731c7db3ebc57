/** Words and lines of the program that are wrong by themselves. */
import { edited, middle } from './edits.js';
import type { Fault } from './fault.js';
import { withWord } from './text.js';

export const words: readonly Fault[] = [
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
    shownBy: ['verify/unprimed'],
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
      const lines = text.lines.map((l, i) => (i === at ? l.replace(/E(\d+)\.(\d+)/, 'E$1$2') : l));
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
      const k = middle(text, region);
      const [from, to] = text.layerSpan(region, k);
      const lines = [...text.lines.slice(0, from), 'G20', ...text.lines.slice(from)];
      return { lines, at: [from + 1, to + 1], layer: k };
    },
  },
];
