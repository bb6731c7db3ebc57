/** Machines with one limit changed: each against what the change means in plain geometry. */
import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { seeded } from '../../lib/base/random.js';
import { DEG, type Vec3 } from '../../lib/base/vector.js';
import {
  FIXED_SLACK,
  coneHead,
  headOf,
  headWidth,
  leastTipHeightOver,
  tableOf,
  turningBy,
  turningJoint,
} from '../../lib/directions/changed-limits.js';
import { headRadius, headTop, leastTipHeight } from '../../lib/machine/head.js';
import { canReach, directionAtTilt } from '../../lib/machine/reachable-directions.js';
import { readMachine } from '../../lib/machine/read-files.js';

const machineOf = (name: string): ReturnType<typeof readMachine> => {
  const file = new URL(`../../samples/machines/${name}.json`, import.meta.url);
  return readMachine(JSON.parse(readFileSync(file, 'utf8')));
};
const machine = machineOf('table-table-ac');

describe('turning joint', () => {
  const joint = turningJoint(machine)!;

  test('is the one about the table normal', () => {
    expect(machine.joints[joint]!.letter).toBe('C');
    const other = machineOf('table-table-bc');
    expect(other.joints[turningJoint(other)!]!.letter).toBe('C');
  });

  test('fixed, the table tilts about X alone: directions near the plane of Y and Z', () => {
    const fixed = turningBy(machine, joint, 0);
    const reached = (azimuth: number): boolean =>
      canReach(fixed, directionAtTilt(50 * DEG, azimuth * DEG));
    for (const side of [90, -90]) {
      expect(reached(side)).toBe(true);
      expect(reached(side + 0.9 * FIXED_SLACK)).toBe(true);
      expect(reached(side + 1.1 * FIXED_SLACK)).toBe(false);
    }
    expect(reached(0)).toBe(false);
  });

  test('a tilt to both sides needs half a turn for every azimuth, and no less', () => {
    const all = (range: number): boolean => {
      const turned = turningBy(machine, joint, range);
      return Array.from({ length: 72 }, (_, i) =>
        canReach(turned, directionAtTilt(50 * DEG, (5 * i + 1) * DEG)),
      ).every(Boolean);
    };
    expect([170, 180, 360, Infinity].map(all)).toEqual([false, true, true, true]);
  });
});

describe('table', () => {
  test('so large that all of the head is over it, it is the endless table', () => {
    for (const t of [0, 20, 45, 70, 90, 110, 130]) {
      const here = tableOf(machine, 1e6, 40, 180).leastTipHeight(t * DEG);
      expect(here).toBeCloseTo(leastTipHeight(machine, t * DEG), 9);
    }
  });

  test('lying over it, a wide head counts only as far as the table goes', () => {
    const outline = [0, 5, 10, 15, 20].map((above) => ({ above, radius: above < 20 ? 0 : 10 }));
    // Tilt 90: the head lies along the table; radius and clearance count, or the clearance alone.
    expect(leastTipHeightOver(outline, 100, 1, 90 * DEG)).toBeCloseTo(11, 12);
    expect(leastTipHeightOver(outline, 15, 1, 90 * DEG)).toBeCloseTo(1, 12);
  });

  test('no point of the head that is over the table comes too near, seed 7', () => {
    const next = seeded(7);
    const outline = Array.from({ length: 61 }, (_, i) => ({
      above: i,
      radius: i < 10 ? 0.3 * i : i < 40 ? 12 : 25,
    }));
    for (let n = 0; n < 200; n++) {
      const t = next() * 120 * DEG;
      const far = 10 + 60 * next();
      const z = leastTipHeightOver(outline, far, 1, t);
      for (let k = 0; k < 400; k++) {
        const { above: s, radius } = outline[Math.floor(next() * 61)]!;
        const [r, phi] = [radius * Math.sqrt(next()), 2 * Math.PI * next()];
        const [a, b] = [r * Math.cos(phi), r * Math.sin(phi)];
        // The head's axis leans towards +X; a runs down the slope, b across.
        const p: Vec3 = [
          s * Math.sin(t) + a * Math.cos(t),
          b,
          z + s * Math.cos(t) - a * Math.sin(t),
        ];
        if (Math.hypot(p[0], p[1]) > far) continue;
        expect(p[2]).toBeGreaterThan(Math.min(1, s) - 1e-9);
      }
    }
  });
});

describe('head', () => {
  test('a cone widens with its half-angle up to the width of the head', () => {
    const cone = coneHead(machine, 30);
    const tip = machine.nozzle.flat / 2;
    for (const s of [0, 5, 20, 40]) {
      expect(headRadius(cone, s)).toBeCloseTo(tip + s * Math.tan(30 * DEG), 9);
    }
    expect(headTop(cone)).toBe(headTop(machine));
    expect(headRadius(cone, headTop(machine))).toBeCloseTo(headWidth(machine), 9);
  });

  test('in proportion, the widest part has the radius that was asked', () => {
    for (const r of [5, 20, 60]) {
      const sized = headOf(machine, r);
      expect(headWidth(sized)).toBeCloseTo(r, 9);
      expect(headRadius(sized, 5) / headRadius(machine, 5)).toBeCloseTo(r / headWidth(machine), 9);
    }
  });
});
