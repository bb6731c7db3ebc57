/**
 * The shape of prints spelled by hand: what is claimed to be missing or too much is the distance to the
 * real section of the nearest bead, and what is truly missing is told where it is.
 */
import { describe, expect, it } from 'vitest';
import type { Finding } from '../../lib/base/fault.js';
import type { Vec2, Vec3 } from '../../lib/base/vector.js';
import type { Mesh } from '../../lib/mesh/mesh.js';
import { extruded } from '../../lib/mesh/make-solids.js';
import { readOptions } from '../../lib/program/options.js';
import { readProgram } from '../../lib/program/read-program.js';
import { seeded } from '../../lib/base/random.js';
import { BeadIndex } from '../../lib/verify/bead-index.js';
import { heightsOf } from '../../lib/verify/layers.js';
import { TraceKind, traceOf } from '../../lib/verify/trace.js';
import { type ProgramCheck, verify } from '../../lib/verify/verify.js';
import { cuboid } from '../support/shapes.js';
import { Pen, printer } from './prints.js';

const [W, H] = [0.4, 0.2];
const machine = printer();
const checked = (pen: Pen, part: Mesh): ProgramCheck => verify(pen.text(), machine, { part }).check;
const found = ({ findings }: ProgramCheck, code: string): Finding[] =>
  findings.filter((f) => f.code === code);

describe('the bead index: a stadium 0.45 wide and 0.2 high from x = 0 to 10, its tip at z = 0.2', () => {
  // Section (w - h) h + pi h^2 / 4; its points are those within h / 2 of a strip w - h wide at mid-height,
  // so distances are those from the strip, less h / 2 (parallel bodies; Steiner).
  const [w, h] = [0.45, 0.2];
  const pen = new Pen();
  pen.move([0, 0, h]);
  pen.lay([10, 0, h], ((w - h) * h + (Math.PI / 4) * h * h) / h, h);
  const program = readProgram(pen.text(), readOptions(machine));
  const trace = traceOf(program, machine);
  const beads = new BeadIndex(trace, heightsOf(trace, machine.nozzle.diameter), 4);
  it.each<[string, Vec3, number]>([
    ['over it', [5, 0, 0.5], 0.3],
    ['beside it', [5, 1, 0.1], 1 - w / 2],
    ['over its edge: hypot(0.3, 0.4) from the strip', [3, 0.125 + 0.3, 0.1 + 0.4], 0.5 - h / 2],
    ['before its square end', [11, 0, 0.1], 1],
    ['off a corner of its end: hypot(0.3, 0.4) from the strip', [10.2, 0.525, 0.1], 0.5 - h / 2],
    ['in its middle', [5, 0, 0.1], -h / 2],
  ])('%s', (_, p, distance) => {
    expect(beads.nearest(p, 1.5)!.distance).toBeCloseTo(distance, 3);
  });
  it.each<[string, Vec3, number]>([
    ['9 m over it', [5, 0, 9000.2], 9000],
    ['9 m beside it', [5, -9000, 0.1], 9000 - w / 2],
    ['3, 4 and 12 m off (a box with a diagonal of 13)', [10 + 3000, 4000, 12000], 13000],
    ['beside it', [5, 1, 0.1], 1 - w / 2],
    ['in its middle', [5, 0, 0.1], -h / 2],
  ])('is searched however far: %s', (_, p, distance) => {
    const near = beads.nearestOfAll(p)!;
    expect(trace.kind[near.block]).toBe(TraceKind.deposit);
    // Where it is off both along and over the bead, by no more than half its width and height.
    expect(Math.abs(near.distance - distance)).toBeLessThan(distance === 13000 ? 0.5 : 1e-3);
  });
  it('finds nothing where nothing is laid', () => {
    const idle = traceOf(
      readProgram('G21\nG1 X0 Y0 Z1 A0 C0 F600\nG1 X9\nM2\n', readOptions(machine)),
      machine,
    );
    const none = new BeadIndex(idle, heightsOf(idle, machine.nozzle.diameter), 4);
    expect(none.nearestOfAll([0, 0, 0])).toBeUndefined();
  });
  it('finds the same as all beads asked one by one, in 400 beads and 300 places, seed 5', () => {
    const random = seeded(5);
    const within = (size: number): number => size * (random() - 0.5);
    const many = new Pen();
    many.move([0, 0, h]);
    for (let i = 0; i < 400; i++) {
      const from: Vec3 = [within(200), within(200), h + 150 * random()];
      many.move(from);
      many.lay([from[0] + 1 + within(1), from[1] + within(1), from[2]], 0.4, h);
    }
    const whole = traceOf(readProgram(many.text(), readOptions(machine)), machine);
    const heights = heightsOf(whole, machine.nozzle.diameter);
    const index = new BeadIndex(whole, heights, 4);
    // The middles of the beads: their own surfaces are no farther from them than bead and half-length.
    const middles = [...whole.kind.keys()].filter(
      (b) => b > 0 && whole.kind[b] === TraceKind.deposit,
    );
    for (let n = 0; n < 300; n++) {
      const p: Vec3 = [within(600), within(600), within(600)];
      const least = Math.min(
        ...middles.map((b) =>
          Math.hypot(
            ...[0, 1, 2].map(
              (c) => (whole.tip[3 * b + c]! + whole.tip[3 * b - 3 + c]!) / 2 - p[c]!,
            ),
          ),
        ),
      );
      const { distance } = index.nearestOfAll(p)!;
      expect(distance).toBeLessThanOrEqual(least);
      expect(distance).toBeGreaterThan(least - 1.1);
    }
  });
  it('says nothing of what is farther than asked, or lies before the face', () => {
    expect(beads.nearest([5, 1, 0.1], 0.7)).toBeUndefined();
    expect(beads.nearest([5, 1, 0.1], 1.5, [0, -1, 0], 0.1)).toBeUndefined();
    expect(beads.nearest([5, 1, 0.1], 1.5, [0, 1, 0], 0.1)!.distance).toBeCloseTo(0.775, 3);
  });
});

/** A box of 20 x 12 x 4 of beads along X and along Y in turn, of which nothing is laid where `bare` says. */
function boxWithout(bare: (p: Vec3) => boolean): Pen {
  const pen = new Pen();
  pen.move([0, 0, 30]);
  const step = 0.1;
  for (let k = 0; k < 20; k++) {
    const [run, across, z] = k % 2 === 0 ? [20, 12, 0.2 * (k + 1)] : [12, 20, 0.2 * (k + 1)];
    for (let i = 0; i < across / W; i++) {
      const off = (i + 0.5) * W - across / 2;
      const at = (s: number): Vec3 => (k % 2 === 0 ? [s - run / 2, off, z] : [off, s - run / 2, z]);
      for (let s = 0; s < run - step / 2;) {
        let end = s;
        while (end < run - step / 2 && !bare(at(end + step / 2))) end += step;
        if (end > s + step / 2) {
          pen.move(at(s));
          pen.lay(at(end), W, H);
        }
        s = end + step;
      }
    }
  }
  return pen;
}
const box = cuboid([20, 12, 4]);
const inBox = ([x, y, z]: Vec3, least: Vec3, most: Vec3): boolean =>
  x > least[0] && x < most[0] && y > least[1] && y < most[1] && z > least[2] && z < most[2];

describe('what is missing in a box', () => {
  it('nothing: nothing is told', () => {
    const check = checked(
      boxWithout(() => false),
      box,
    );
    expect(check.findings.filter((f) => f.severity !== 'note')).toEqual([]);
    expect(Math.abs(check.shape!.meanMm)).toBeLessThan(0.01);
  });

  it('a hole bored in from the side: where it is, by no more than the nearest bead is away', () => {
    // From y = 3 to the face at y = 6, 3 mm wide and 2 mm high: beads lie 1 mm off its middle.
    const check = checked(
      boxWithout((p) => inBox(p, [-1.5, 3, 1.05], [1.5, 7, 3.05])),
      box,
    );
    const [missing, more] = found(check, 'verify/missing');
    expect(more).toBeUndefined();
    const at = missing!.at!.point as Vec3;
    expect(Math.abs(at[0])).toBeLessThan(1.5);
    expect(at[1]).toBeCloseTo(6, 2);
    expect(at[2]).toBeGreaterThan(1);
    expect(at[2]).toBeLessThan(3);
    expect(-check.shape!.leastMm).toBeGreaterThan(0.85);
    expect(-check.shape!.leastMm).toBeLessThan(1.02);
    // The mouth is 3 x 2 mm; all but what is nearer than half a bead and a cube to a bead.
    expect(check.shape!.missingMm2).toBeGreaterThan((3 - 0.8) * (2 - 0.8) * 0.8);
    expect(check.shape!.missingMm2).toBeLessThan(3 * 2);
  });

  it('a corner: told there', () => {
    const check = checked(
      boxWithout((p) => inBox(p, [8, 4, 3.05], [11, 7, 5])),
      box,
    );
    const [missing] = found(check, 'verify/missing');
    const [x, y, z] = missing!.at!.point as Vec3;
    expect(inBox([x, y, z], [7.9, 3.9, 2.9], [10.1, 6.1, 4.1])).toBe(true);
    // A vertex of the part is farthest: cut off by a box of 2 x 2 x 1, it is 1 mm over what is below.
    expect(-check.shape!.leastMm).toBeGreaterThan(0.9);
    expect(-check.shape!.leastMm).toBeLessThan(1.02);
  });

  it('an outer bead shortened by 6 mm in one layer: the skin is open there', () => {
    const check = checked(
      boxWithout((p) => inBox(p, [-3, 5.6, 2.05], [3, 6, 2.25])),
      box,
    );
    const [open, more] = found(check, 'verify/open-skin');
    expect(more).toBeUndefined();
    const [x, y, z] = open!.at!.point as Vec3;
    expect(inBox([x, y, z], [-3, 5.99, 2], [3, 6.01, 2.2])).toBe(true);
    // 6 x 0.2 mm of the face; beads over and under it are 0.1 mm from its middle,
    // and near either end a way into the skin meets what is laid there.
    expect(check.shape!.openSkinMm2).toBeGreaterThan(0.5 * 1.2);
    expect(check.shape!.openSkinMm2).toBeLessThan(1.3 * 1.2);
    expect(-check.shape!.leastMm).toBeLessThan(0.15);
  });
});

describe('a wall of one bead with a pointed end', () => {
  /** A wall 0.4 mm thick to x = 10 that ends in a point `tip` mm farther; where the bead ends. */
  const ending = (tip: number): ProgramCheck => {
    const pen = new Pen();
    pen.move([-10, 0, 30]);
    for (let k = 0; k < 40; k++) {
      pen.move([-10, 0, (k + 1) * H]);
      pen.lay([10, 0, (k + 1) * H], W, H);
    }
    const outline: Vec2[] = [
      [-10, -0.2],
      [10, -0.2],
      [10 + tip, 0],
      [10, 0.2],
      [-10, 0.2],
    ];
    return checked(pen, extruded([outline], 8));
  };
  it('is told as an edge too thin for a bead, in a note', () => {
    const check = ending(0.39);
    expect(found(check, 'verify/missing')).toEqual([]);
    expect(-check.shape!.leastMm).toBeGreaterThan(0.3);
    expect(-check.shape!.leastMm).toBeLessThan(0.39 + 0.01);
  });
  it('is missing where the point is longer than a bead is wide, by its distance from where the bead ends', () => {
    const check = ending(1.4);
    const [missing] = found(check, 'verify/missing');
    expect(missing!.severity).toBe('warning');
    expect((missing!.at!.point as Vec3)[0]).toBeGreaterThan(11);
    expect(-check.shape!.leastMm).toBeGreaterThan(1.25);
    expect(-check.shape!.leastMm).toBeLessThan(1.4 + 0.01);
  });
});
