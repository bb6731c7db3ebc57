/** Beads laid by hand, layer over layer, and what the plan counts of them as hanging. */
import type { HangingPlace } from '../../../lib/layers/unsupported.js';
import { hangingBeads } from '../../../lib/paths/hanging/planned-beads.js';
import type { Paths } from '../../../lib/paths/paths.js';
import { type Loop, layersOf } from '../flat.js';

/** Width and height of the beads' sections, mm. */
export const [W, H] = [0.4, 0.2];
export type Way = readonly (readonly [number, number])[];

/** Beads of layers one over the other as a record of paths. */
export function pathsOf(layers: readonly (readonly Way[])[]): Paths {
  const ways = layers.flatMap((list, layer) => list.map((way) => ({ way, layer })));
  const points = ways.flatMap(({ way, layer }) => way.flatMap(([x, y]) => [x, y, (layer + 1) * H]));
  const start = [0];
  for (const { way } of ways) start.push(start.at(-1)! + way.length);
  const count = points.length / 3;
  return {
    points: Float64Array.from(points),
    width: new Float64Array(count).fill(W + H * (1 - Math.PI / 4)),
    height: new Float64Array(count).fill(H),
    start: Uint32Array.from(start),
    kind: new Uint8Array(ways.length),
    layer: Uint32Array.from(ways, ({ layer }) => layer),
    flowFactor: new Float64Array(ways.length).fill(1),
    link: new Uint8Array(ways.length),
    linkPoints: new Float64Array(0),
    linkStart: new Uint32Array(ways.length + 1),
  };
}

/** What hangs of the beads of a region alone on the table, at 45 degrees and without bridges. */
export const hangingAlone = (
  layers: readonly (readonly Way[])[],
  sections: readonly Loop[][],
): HangingPlace[] =>
  hangingBeads({
    region: 0,
    layers: layersOf(sections, { height: H }),
    paths: pathsOf(layers),
    lower: new Float64Array(0),
    open: new Uint8Array(layers.length).fill(1),
    onTable: true,
    theta: Math.PI / 4,
    bridge: 0,
  });
