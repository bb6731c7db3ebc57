/** Orders of runs: what stands on something comes after it, what would be in the way comes last. */
import { describe, expect, it } from 'vitest';
import { pathFrame } from '../../lib/layers/layer-map.js';
import { Fault } from '../../lib/base/fault.js';
import { applyDirection } from '../../lib/base/frame.js';
import { seeded } from '../../lib/base/random.js';
import { DEG, type Vec3, unit } from '../../lib/base/vector.js';
import { orderRuns } from '../../lib/order/order.js';
import { acJson, machineOf, rotary } from '../machine/machines.js';
import { type BoxJob, arm, boxJob, post } from '../motion/jobs.js';

const machine = machineOf(acJson());

const order = (parts: BoxJob[], m = machine) =>
  orderRuns(
    m,
    parts.map((p) => p.region),
    parts.map((p) => p.paths),
  );

const leaning = (deg: number, azimuth: number): Vec3 =>
  unit([
    Math.sin(deg * DEG) * Math.cos(azimuth * DEG),
    Math.sin(deg * DEG) * Math.sin(azimuth * DEG),
    Math.cos(deg * DEG),
  ]);

describe('order', () => {
  it('has each region once, whole, after what it stands on (100 random trees, seed 7)', () => {
    const random = seeded(7);
    for (let n = 0; n < 100; n++) {
      const count = 2 + Math.floor(5 * random());
      const parts: BoxJob[] = [];
      for (let i = 0; i < count; i++) {
        const on = i ? [Math.floor(i * random())] : [];
        const d = leaning(80 * random(), 360 * random());
        const at = 200 * i;
        parts.push(boxJob([at, 0, 0], [at + 8, 8, 1], i ? d : [0, 0, 1], on));
      }
      const { runs } = order(parts);
      const place = parts.map((_, r) => runs.findIndex((run) => run.region === r));
      expect([...place].sort()).toEqual(parts.map((_, i) => i));
      parts.forEach((p, r) => {
        for (const base of p.region.standsOn) expect(place[base]).toBeLessThan(place[r]!);
        expect(runs[place[r]!]).toEqual({ region: r, firstLayer: 0, lastLayer: 4 });
      });
    }
  });

  it('goes round the arms instead of to and fro', () => {
    // C can only turn one way and back; azimuths as given jump about by half turns.
    const oneWay = machineOf({
      ...acJson(),
      table: {
        ...acJson().table,
        joints: [rotary('A', [1, 0, 0], [-1, 90]), rotary('C', [0, 0, 1], [-200, 200])],
      },
    });
    const azimuths = [60, -60, 30, -30, 0];
    const parts = [post(), ...azimuths.map((a) => arm(leaning(70, a)))];
    // Far apart, so that nothing is in the way of anything.
    const spread = parts.map((p, i) => ({
      ...p,
      region: { ...p.region, mesh: shifted(p.region.mesh, 400 * i) },
      paths: aside(p, 400 * i),
    }));
    const { runs } = order(spread, oneWay);
    const round = runs.slice(1).map((r) => azimuths[r.region - 1]!);
    const steps = round.slice(1).map((a, i) => a - round[i]!);
    expect(Math.abs(steps.reduce((a, b) => a + b, 0))).toBe(120);
    expect(steps.every((s) => Math.sign(s) === Math.sign(steps[0]!))).toBe(true);
  });

  it('prints what lies low between tall neighbours first', () => {
    // Two posts of 60 mm, 14 mm apart, and a 2 mm bar between: the head (radius 9 at 8 mm above the
    // tip) fits over the bar only while the posts are not there.
    const parts = [
      boxJob([-20, -10, 0], [-7, 10, 60], [0, 0, 1]),
      boxJob([7, -10, 0], [20, 10, 60], [0, 0, 1]),
      boxJob([-4, -10, 0], [4, 10, 2], [0, 0, 1]),
    ];
    const { runs } = order(parts);
    expect(runs[0]!.region).toBe(2);
  });

  it('prints tall neighbours in turns where neither can come whole before the other', () => {
    // Two posts of 60 mm, tips at least 16 mm from the other's beads: the head is 9 mm wide at 8 mm
    // over the tip and 18 mm at 30 mm, so with 1 mm clearance it is 15 mm at 22.7 mm: no post may be
    // higher than the other by more than that, so neither is done in one turn.
    const parts = [
      boxJob([-20, -10, 0], [-7, 10, 60], [0, 0, 1]),
      boxJob([7, -10, 0], [20, 10, 60], [0, 0, 1]),
    ];
    const { runs, findings } = order(parts);
    expect(findings).toEqual([]);
    const top = [0, 0];
    for (const { region, firstLayer, lastLayer } of runs) {
      expect(firstLayer).toBe(top[region]);
      top[region] = lastLayer + 1;
      // Beads are round at the edge, which gives a little more.
      expect(0.2 * Math.abs(top[0]! - top[1]!)).toBeLessThan(25);
    }
    expect(top).toEqual([300, 300]);
    expect(runs.length).toBeGreaterThanOrEqual(4);
    expect(runs.length).toBeLessThan(14);
  });

  it('says so where the low one stands on a tall one', () => {
    const parts = [
      boxJob([-20, -10, 0], [-7, 10, 60], [0, 0, 1]),
      boxJob([7, -10, 0], [20, 10, 60], [0, 0, 1], [0]),
      boxJob([-4, -10, 0], [4, 10, 2], [0, 0, 1], [1]),
    ];
    const { runs, findings } = order(parts);
    expect(runs.map((r) => r.region)).toEqual([0, 1, 2]);
    expect(findings).toEqual([]);
  });

  it('refuses regions that stand on one another in a circle', () => {
    const parts = [post(), arm(leaning(60, 0), [2]), arm(leaning(60, 90), [1])];
    expect(() => order(parts)).toThrow(Fault);
    expect(() => order(parts)).toThrow(/2 3 .*circle/);
  });

  it('leaves out a region without paths and says so', () => {
    const empty = post();
    const none = { ...empty.paths, layer: new Uint32Array(0), start: new Uint32Array(1) };
    const { runs, findings } = order([post(), { ...empty, paths: none }]);
    expect(runs).toHaveLength(1);
    expect(findings.map((f) => f.code)).toEqual(['order/nothing-to-lay']);
  });
});

/** Paths shifted along X of the part. */
function aside({ paths, layers }: BoxJob, dx: number): BoxJob['paths'] {
  const by = applyDirection(pathFrame(layers.map).layerFromPart, [dx, 0, 0]);
  return { ...paths, points: paths.points.map((v, i) => v + by[i % 3]!) };
}

function shifted(mesh: BoxJob['region']['mesh'], dx: number): BoxJob['region']['mesh'] {
  return { ...mesh, vertices: mesh.vertices.map((v, i) => (i % 3 === 0 ? v + dx : v)) };
}
