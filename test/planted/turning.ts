/**
 * Faults of curved layers, where the head turns while it lays. Those of its direction leave the tip where it
 * was in the part, so that the direction alone is wrong.
 */
import { edited, until } from './edits.js';
import type { Fault, Planted } from './fault.js';
import { Redirect, type Stand, redirected } from './redirect.js';
import { type Chain, type Text, withWord } from './text.js';

/** So high, as a share of the layers, the head is tilted far and the table is out of its way. */
const HIGH = 0.8;

const layerAt = (text: Text, share: number): number => Math.round(share * text.layers(1));

/** Lines at which a fault of a layer must be found: a stretch that is judged may begin in the layer before. */
const about = (text: Text, k: number): [number, number] => [
  text.layerSpan(1, k - 1)[0] + 1,
  until(text, 1, k + 1),
];

/** Tilts that are less leave little to be wrong, deg. */
const FAR = 20;
const isTilted = ({ rows }: Text, line: number): boolean => Math.abs(rows[line]!.at[3]!) > FAR;

const longest = (chains: readonly Chain[]): Chain =>
  chains.reduce((a, b) => (b.to - b.from > a.to - a.from ? b : a));

/** A and C of a stretch of lines, as an edit of those that stand there. */
const turnedBy =
  (share: number, edit: (stand: Stand) => readonly [number, number]) =>
  (text: Text): Planted => {
    const k = layerAt(text, share);
    const [from, to] = text.layerSpan(1, k);
    const lines = redirected(text, from, to, edit);
    return { lines, at: about(text, k), layer: k };
  };

/** The mean direction of all layers for those of the upper half. */
function evenedOut(text: Text): Planted | undefined {
  const k = layerAt(text, 0.5);
  const [from, to] = [text.layerSpan(1, k)[0], text.span(1)[1]];
  if (!isTilted(text, text.layerSpan(1, layerAt(text, HIGH))[0])) return undefined;
  const redirect = new Redirect();
  const sum = [0, 0, 0];
  for (let i = text.layerSpan(1, 1)[0]; i < to; i++) {
    const { lays, at } = text.rows[i]!;
    if (lays) redirect.over(at).up.forEach((v, c) => (sum[c]! += v));
  }
  const size = Math.hypot(...sum);
  const up = sum.map((v) => v / size) as unknown as [number, number, number];
  // In one turn of C: a whole turn in the middle of a bead would be another fault.
  const pair = redirect.towards(up, text.rows[from]!.at);
  const lines = redirected(text, from, to, () => pair);
  return { lines, at: [from + 1, to], layer: k };
}

function azimuthJump(text: Text): Planted | undefined {
  const k = layerAt(text, HIGH);
  const chain = longest(text.chains(...text.layerSpan(1, k)));
  const from = (chain.from + chain.to) >> 1;
  if (!isTilted(text, from)) return undefined;
  const lines = redirected(text, from, chain.to + 1, ([, , , a, c]) => [a!, c! + 60]);
  return { lines, at: about(text, k), layer: k };
}

function leftOut(text: Text): Planted {
  const k = layerAt(text, HIGH);
  const [from, to] = text.layerSpan(1, k);
  const lines = [...text.lines.slice(0, from), ...text.lines.slice(to)];
  return { lines, at: [from, until(text, 1, k + 1) - (to - from)], layer: k };
}

/**
 * The head against the table, 2 to 4 mm deep: from a tilt of 26 deg, the tip 13 mm high, 20 deg farther would leave its
 * rim (22 mm about the axis, 18 mm over the tip) 9.7 mm over the face.
 */
const FARTHER = 50;
function touching(text: Text): Planted | undefined {
  const k = layerAt(text, 0.95);
  const chain = longest(text.chains(...text.layerSpan(1, k)));
  if (!isTilted(text, chain.from)) return undefined;
  const lines = redirected(text, chain.from, chain.to + 1, ([, , , a, c]) => [
    a! + FARTHER * Math.sign(a!),
    c!,
  ]);
  return { lines, at: about(text, k), layer: k };
}

const flow =
  (factor: number) =>
  (text: Text): Planted => {
    const k = layerAt(text, HIGH);
    const { from, to } = longest(text.chains(...text.layerSpan(1, k)));
    const lines = text.lines.map((l, i) =>
      i >= from && i <= to ? withWord(l, 'E', (e) => e * factor, 5) : l,
    );
    return { lines, at: about(text, k), layer: k };
  };

const curved = { regions: 'curved' } as const;

export const turning: readonly Fault[] = [
  {
    ...curved,
    name: 'directions of the upper half evened out',
    shownBy: ['verify/head-leans'],
    plant: evenedOut,
  },
  {
    ...curved,
    name: 'tilt 0.9 of what it was, the tip in its place',
    shownBy: ['verify/head-leans'],
    harmless:
      'a lean of 4 deg at a tilt of 40, which a plan may have: the nozzle digs 0.03 mm deeper',
    plant: (text) => {
      const from = text.layerSpan(1, 1)[0];
      const [, to] = text.span(1);
      const lines = redirected(text, from, to, ([, , , a, c]) => [0.9 * a!, c!]);
      return { lines, at: [from + 1, to], layer: 0 };
    },
  },
  {
    ...curved,
    name: 'tilt 0.9 of what it was, the other joints as they were',
    needsPart: 'a part that is bent less is a part like any other',
    plant: (text) => {
      const from = text.layerSpan(1, 1)[0];
      const [, to] = text.span(1);
      const lines = edited(text, from, to, (l) => withWord(l, 'A', (a) => 0.9 * a, 4));
      return { lines, at: [from + 1, to], layer: 0 };
    },
  },
  {
    ...curved,
    name: 'azimuth off by 60 deg from the middle of a bead',
    shownBy: ['verify/head-leans'],
    plant: azimuthJump,
  },
  {
    ...curved,
    name: 'head leans by 20 deg more in one curved layer',
    shownBy: ['verify/head-leans'],
    plant: turnedBy(HIGH, ([, , , a, c]) => [a! - 20 * Math.sign(a!), c!]),
  },
  {
    ...curved,
    name: 'a curved layer left out',
    shownBy: ['verify/level-step'],
    plant: leftOut,
  },
  {
    ...curved,
    name: 'head tilted by 50 deg more, into the table',
    shownBy: ['verify/touch'],
    plant: touching,
  },
  {
    ...curved,
    name: 'a curved bead, twice the flow',
    shownBy: ['verify/layer-flow'],
    plant: flow(2),
  },
  {
    ...curved,
    name: 'a curved bead, half the flow',
    shownBy: ['verify/layer-flow'],
    plant: flow(0.5),
  },
];
