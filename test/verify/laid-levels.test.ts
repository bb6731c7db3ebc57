/** Places against the beads of a level, by the distance of each place from each bead, one by one. */
import { describe, expect, it } from 'vitest';
import { seeded } from '../../lib/base/random.js';
import { type Vec3, add, along, dot, length, scale, sub, unit } from '../../lib/base/vector.js';
import { LaidLevels } from '../../lib/verify/laid-levels.js';
import type { Heights } from '../../lib/verify/layers.js';
import { type Block, traceOfBlocks } from './traces.js';

const [WIDTH, H] = [0.4, 0.2];

/** From a place to a segment, mm. */
function far(p: Vec3, a: Vec3, b: Vec3): number {
  const e = sub(b, a);
  const t = Math.min(1, Math.max(0, dot(sub(p, a), e) / dot(e, e)));
  return length(sub(p, along(a, e, t)));
}

describe.each([[[0, 0, 1]], [unit([0.4, -0.3, 0.8])]] as const)('built along %j', (up) => {
  it.each([1, 2, 3])('the nearest flank of the level, seed %i', (seed) => {
    const random = seeded(seed);
    const d = up as Vec3;
    const across = unit(sub([1, 0, 0], scale(d, d[0])));
    const aside: Vec3 = [
      d[1] * across[2] - d[2] * across[1],
      d[2] * across[0] - d[0] * across[2],
      d[0] * across[1] - d[1] * across[0],
    ];
    // In the plane 5 mm up the direction, up to 20 mm from its middle.
    const place = (): Vec3 =>
      [across, aside].reduce((p: Vec3, axis) => along(p, axis, 40 * (random() - 0.5)), scale(d, 5));
    const beads: { from: Vec3; to: Vec3; half: number }[] = [];
    const blocks: Block[] = [];
    for (let n = 0; n < 15; n++) {
      const from = place();
      const to = n % 2 ? place() : add(from, scale(aside, 3));
      const half = 0.15 + 0.2 * random();
      beads.push({ from, to, half });
      const volume = 2 * half * H * length(sub(to, from));
      blocks.push({ to: from }, { to, volume });
    }
    const trace = traceOfBlocks(scale(d, 5), blocks, d);
    const heights = {
      height: new Float64Array(trace.kind.length).fill(H),
      usual: H,
      width: WIDTH,
      layerStart: [2],
    } as unknown as Heights;
    const levels = new LaidLevels(trace, heights);
    const level = levels.enter(0);
    const direction = levels.of(2);
    expect(level.at).toBeCloseTo(5, 9);
    expect(levels.between(direction, 4.9, 5.1, [])).toEqual([level]);
    expect(levels.between(direction, 5.1, 6, [])).toEqual([]);
    for (let n = 0; n < 300; n++) {
      const p = place();
      const least = Math.min(...beads.map(({ from, to, half }) => far(p, from, to) - half));
      const most = 0.5 + 4 * random();
      const at = [dot(direction.u, p), dot(direction.v, p)] as const;
      const found = levels.distance(level, direction, ...at, most, -Infinity);
      expect(found).toBeCloseTo(Math.min(most, least), 9);
    }
  });
});
