/** Beads that are laid in the wrong place. */
import { edited, middle, until } from './edits.js';
import type { Fault, Planted } from './fault.js';
import { type Text, withWord, word } from './text.js';

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

const alongX =
  (edit: (x: number) => number) =>
  (text: Text, region: number): Planted => {
    const [from, to] = text.span(region);
    const begin = region === 1 ? from : text.turnTo(region);
    const lines = edited(text, begin, to, (l) => withWord(l, 'X', edit, 4));
    return { lines, at: [begin + 1, to], layer: 0 };
  };

export const places: readonly Fault[] = [
  { name: 'region (program) 0.3 mm too high', regions: 'any', plant: raised(0.3, 'all') },
  { name: 'region (program) 0.3 mm too low', regions: 'any', plant: raised(-0.3, 'all') },
  { name: 'first layer 0.18 mm too high', regions: 'any', plant: raised(0.18, 'first') },
  { name: 'first layer 0.18 mm too low', regions: 'any', plant: raised(-0.18, 'first') },
  { name: 'wrong sign of tilt', regions: 'tilted', plant: turned('A', (a) => -a) },
  { name: 'tilt off by 1 deg', regions: 'any', plant: turned('A', (a) => a + 1) },
  { name: 'C off by 5 deg', regions: 'tilted', plant: turned('C', (c) => c + 5) },
  {
    name: 'a region shifted by 0.3 mm along its layers',
    regions: 'any',
    needsPart:
      'along its layers it lies on its base all the same; a base may be wider than what stands on it',
    plant: alongX((x) => x + 0.3),
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
    name: 'X mirrored',
    regions: 'any',
    needsPart:
      'a mirrored part is a part like any other, and where its base is even to both sides it lies on it as well',
    plant: alongX((x) => -x),
  },
];
