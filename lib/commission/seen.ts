/**
 * What somebody sees when one joint moves a little: which body, along or about which of the machine's axes, and
 * which way. Each has words of its own, as seen from the side of Y- towards Y+ with X+ on the right. Right-handed
 * turns about +X bring the near edge of a table down and let the top of a head lean towards the operator.
 */
import { applyDirection } from '../base/frame.js';
import { type Vec3, dot, unit } from '../base/vector.js';
import { carriedBy } from '../machine/joint-chain.js';
import type { Joint, Machine } from '../machine/machine.js';

/** One thing that may be seen when a joint moves. */
export interface Sight {
  readonly words: string;
  readonly body: 'head' | 'table';
  readonly kind: Joint['kind'];
  /** Index of the machine's axis X, Y, Z, and the way along or about it. */
  readonly axis: 0 | 1 | 2;
  readonly way: 1 | -1;
}

const sights = (
  body: Sight['body'],
  kind: Sight['kind'],
  words: readonly (readonly [string, string])[],
): Sight[] =>
  words.flatMap(([plus, minus], i) => {
    const axis = i as Sight['axis'];
    return [
      { words: plus, body, kind, axis, way: 1 },
      { words: minus, body, kind, axis, way: -1 },
    ];
  });

const goes = (body: string): (readonly [string, string])[] => [
  [`the ${body} goes right`, `the ${body} goes left`],
  [`the ${body} goes away from you`, `the ${body} comes towards you`],
  [`the ${body} goes up`, `the ${body} goes down`],
];

/** Nothing moved. */
export const NOTHING_SEEN = 'nothing moves';

export const SIGHTS: readonly Sight[] = [
  ...sights('head', 'linear', goes('head')),
  ...sights('table', 'linear', goes('table')),
  ...sights('table', 'rotary', [
    ["the table's near edge goes down", "the table's far edge goes down"],
    ["the table's right edge goes down", "the table's left edge goes down"],
    ['the table turns counter-clockwise', 'the table turns clockwise'],
  ]),
  ...sights('head', 'rotary', [
    ['the top of the head leans towards you', 'the top of the head leans away from you'],
    ['the top of the head leans right', 'the top of the head leans left'],
    ['the head turns counter-clockwise', 'the head turns clockwise'],
  ]),
];

/** What is to be seen when joint `j` goes on by a positive amount, or back by a negative one, from where the joints stand. */
export function expectedSight(
  machine: Machine,
  stand: ArrayLike<number>,
  j: number,
  by: number,
): Sight {
  const { carriesTable, kind, axis } = machine.joints[j]!;
  const outer = machine.joints.findLastIndex((o, i) => i < j && o.carriesTable === carriesTable);
  const now = unit(applyDirection(carriedBy(machine, stand, outer), axis));
  const body = carriesTable ? 'table' : 'head';
  const along = ({ axis: i, way }: Sight): number =>
    way * Math.sign(by) * dot(now, [0, 1, 2].map((c) => (c === i ? 1 : 0)) as unknown as Vec3);
  return SIGHTS.filter((s) => s.body === body && s.kind === kind).reduce((best, s) =>
    along(s) > along(best) + 1e-9 ? s : best,
  );
}
