/** How the text of a program is edited where a fault is planted. */
import { type Text, word } from './text.js';

/** A layer in the middle of a region, away from caps. */
export const middle = (text: Text, region: number): number =>
  Math.round(0.55 * text.layers(region));
/** The next layer but one may be the first to show it. */
export const until = (text: Text, region: number, layer: number): number =>
  text.layerSpan(region, Math.min(text.layers(region), layer))[1];

export function edited(
  text: Text,
  from: number,
  to: number,
  edit: (line: string, i: number) => string,
): string[] {
  return text.lines.map((l, i) => (i >= from && i < to && !l.startsWith('(') ? edit(l, i) : l));
}

export const without = (text: Text, from: number, to: number): string[] => [
  ...text.lines.slice(0, from),
  ...text.lines.slice(to),
];

/** The line with the feed that holds there said in it. */
export const withFeed = (text: Text, i: number): string =>
  word(text.lines[i]!, 'F') === undefined
    ? `${text.lines[i]!} F${text.rows[i]!.feed}`
    : text.lines[i]!;
