/**
 * The machine, material and job files of the samples: they read, forward and inverse agree on them
 * over the whole of their reach, and what stands around the table keeps clear of it.
 */
import { readFileSync, readdirSync } from 'node:fs';
import { describe, expect, it, test } from 'vitest';
import { applyPoint } from '../../lib/base/frame.js';
import { seeded } from '../../lib/base/random.js';
import { parse } from '../../lib/base/schema.js';
import { DEG, type Vec3, dot, length, sub } from '../../lib/base/vector.js';
import { jobFile } from '../../lib/job/job-file.js';
import { carriedBy, machineFromPart } from '../../lib/machine/joint-chain.js';
import { forward } from '../../lib/machine/forward.js';
import { headRadius, leastTipHeight } from '../../lib/machine/head.js';
import { inverse } from '../../lib/machine/inverse.js';
import type { Machine } from '../../lib/machine/machine.js';
import { canReach, directionAtTilt, reachOf } from '../../lib/machine/reachable-directions.js';
import { readMachine, readMaterial } from '../../lib/machine/read-files.js';
import { partNames } from '../../samples/parts.js';

const samples = new URL('../../samples/', import.meta.url);
const json = (path: string): unknown => JSON.parse(readFileSync(new URL(path, samples), 'utf8'));
const names = ['table-table-ac', 'table-table-bc', 'head-table'] as const;
const machineOf = (name: string): Machine => readMachine(json(`machines/${name}.json`), name);

test('every machine file is one of these', () => {
  const files = readdirSync(new URL('machines/', samples));
  expect(files.sort()).toEqual(names.map((n) => `${n}.json`).sort());
});

/** Greatest tilt that the files state, deg: the wider side, for the table turns all the way round. */
const TILT = { 'table-table-ac': 100, 'table-table-bc': 110, 'head-table': 95 };

describe.each(names)('%s', (name) => {
  const machine = machineOf(name);

  it('reaches every azimuth up to the travel of its tilting joint', () => {
    const { everyTilt, greatestTilt } = reachOf(machine);
    expect(everyTilt / DEG).toBeCloseTo(TILT[name], 5);
    expect(greatestTilt / DEG).toBeCloseTo(TILT[name], 5);
    expect(canReach(machine, directionAtTilt((TILT[name] + 1) * DEG, 1))).toBe(false);
  });

  it('inverse then forward gives the point and the direction back (1000 poses, seed 11)', () => {
    const random = seeded(11);
    let near: ArrayLike<number> = machine.ready;
    for (let i = 0; i < 1000; i++) {
      const p: Vec3 = [100 * (random() - 0.5), 100 * (random() - 0.5), 100 * random()];
      const tilt = Math.sqrt(random()) * TILT[name] * 0.999 * DEG;
      const d = directionAtTilt(tilt, 2 * Math.PI * random());
      const found = inverse(machine, p, d, near);
      expect(found.length, `pose ${i}`).toBeGreaterThan(0);
      for (const { joints } of found) {
        const pose = forward(machine, joints);
        expect(length(sub(pose.tip, p)), `pose ${i}`).toBeLessThan(1e-9);
        expect(dot(pose.direction, d), `pose ${i}`).toBeGreaterThan(1 - 1e-12);
      }
      near = found[0]!.joints;
    }
  });

  it('holds a part 100 mm wide and 100 mm high at every tilt up to 90 deg within its travel', () => {
    for (let tilt = 0; tilt <= 90; tilt += 15) {
      for (let azimuth = 0; azimuth < 360; azimuth += 30) {
        const d = directionAtTilt(tilt * DEG, azimuth * DEG);
        for (const p of ringPoints(50, [0, 40, 100])) {
          if (dot(p, d) < 0 || p[2] < leastTipHeight(machine, tilt * DEG)) continue;
          const fits = inverse(machine, p, d, machine.ready).some((s) => !s.violations.length);
          expect(fits, `tilt ${tilt}, azimuth ${azimuth}, at ${p.join(' ')}`).toBe(true);
        }
      }
    }
  });

  it('keeps its turning table clear of what does not turn with it', () => {
    // A disc that turns about its own middle sweeps nothing but itself.
    const rim = machine.face.shape === 'disc' ? machine.face.radius : NaN;
    const rotary = machine.joints.findIndex((j) => j.letter === 'C');
    const turned = new Float64Array(machine.joints.length);
    for (let k = 0; k < 12; k++) {
      turned[rotary] = k * 30 * DEG;
      const p = applyPoint(machineFromPart(machine, turned), [rim, 0, 0]);
      expect(Math.hypot(p[0], p[1])).toBeCloseTo(rim, 9);
      for (const { solid, name: what } of machine.obstacles) {
        if (solid.shape !== 'box') continue;
        const inside = [0, 1, 2].every(
          (c) => p[c]! > solid.from[c]! - 1 && p[c]! < solid.to[c]! + 1,
        );
        expect(inside, what).toBe(false);
      }
    }
  });

  it('has a head that comes down to the table upright and to 13 mm at 60 deg', () => {
    expect(leastTipHeight(machine, 0)).toBe(0);
    expect(leastTipHeight(machine, 60 * DEG)).toBeLessThan(13);
    // The heater block, not the nozzle, is what a tilted head meets first.
    expect(headRadius(machine, 15)).toBeGreaterThan(2 * headRadius(machine, 4));
  });
});

test.each(['table-table-ac', 'table-table-bc'])(
  'the cradle of %s passes over the floor of the frame at every tilt',
  (name) => {
    const machine = machineOf(name);
    const tilting = machine.joints.findIndex((j) => 'AB'.includes(j.letter) && j.carriesTable);
    const solids = machine.obstacles.flatMap(({ solid, ...o }) =>
      solid.shape === 'mesh' ? [] : [{ ...o, solid }],
    );
    const floor = solids.find((o) => o.name === 'frame floor')!.solid;
    const joint = machine.joints[tilting]!;
    const at = new Float64Array(machine.joints.length);
    for (let share = 0; share <= 1; share += 0.125) {
      at[tilting] = joint.least + share * (joint.most - joint.least);
      const frame = carriedBy(machine, at, tilting);
      for (const o of solids.filter((x) => x.carriedBy === tilting)) {
        for (let corner = 0; corner < 8; corner++) {
          const end = (c: number): number => ((corner >> c) & 1 ? o.solid.to : o.solid.from)[c]!;
          const p = applyPoint(frame, [end(0), end(1), end(2)]);
          expect(p[2], o.name).toBeGreaterThan(floor.to[2] + machine.clearance);
        }
      }
    }
  },
);

/** Points on rings about +Z. */
const ringPoints = (radius: number, heights: readonly number[]): Vec3[] =>
  heights.flatMap((z) =>
    Array.from({ length: 12 }, (_, i): Vec3 => {
      const a = i * 30 * DEG;
      return [radius * Math.cos(a), radius * Math.sin(a), z];
    }),
  );

test('the two senses of an axis are both among the samples', () => {
  const senses = names.map((n) => (json(`machines/${n}.json`) as { positive: string }).positive);
  expect(new Set(senses)).toEqual(new Set(['body', 'tool']));
  // ISO 841 names the tool's motion: a table that is turned by +B the other way round.
  const machine = machineOf('table-table-bc');
  const b = machine.joints.find((j) => j.letter === 'B')!;
  expect(b.axis[1]).toBe(-1);
  const x = machine.joints.find((j) => j.letter === 'X')!;
  expect(x.axis[0]).toBe(1);
});

test('the cable of B-C allows three turns, the other tables turn without end', () => {
  const c = (name: string): Machine['joints'][number] =>
    machineOf(name).joints.find((j) => j.letter === 'C')!;
  expect(c('table-table-bc').most / (2 * Math.PI)).toBeCloseTo(3, 12);
  expect(c('table-table-ac').most).toBe(Infinity);
  expect(c('head-table').most).toBe(Infinity);
});

/** Handbook densities, g/cm3: Ingeo 4043D by ASTM D792; Terluran GP-22 by ASTM D1505; PETG by a supplier's note (weak). */
const DENSITY = { pla: 1.24, abs: 1.04, petg: 1.27 };
/** Metres of 1.75 mm filament in a kilogram, computed from those: 4 / (pi d^2 density). */
const METRES = { pla: 335.2836, petg: 327.3635, abs: 399.7612 };

test.each(['pla', 'petg', 'abs'] as const)('%s has its handbook density', (name) => {
  const material = readMaterial(json(`materials/${name}.json`), name);
  expect(material.density).toBe(DENSITY[name]);
  const metres = 1000 / (material.density * ((Math.PI * 1.75 ** 2) / 4));
  expect(metres).toBeCloseTo(METRES[name], 3);
  // The heat of PLA, PETG and ABS: common practice, no source.
  expect(material.nozzleTemperature).toBeGreaterThan(190);
  expect(material.nozzleTemperature).toBeLessThan(280);
});

test.each(partNames)('the job of %s reads, and its files are there', (name) => {
  const job = parse(jobFile, json(`${name}/job.json`), 'job');
  const here = new URL(`${name}/`, samples);
  const read = (path: string): unknown => JSON.parse(readFileSync(new URL(path, here), 'utf8'));
  const machine = readMachine(read(job.machine!));
  readMaterial(read(job.material!));
  expect(job.part).toBe(`../../out/parts/${name}.stl`);
  // Etienne et al. 2019: a layer is 0.1 to 0.75 of the nozzle diameter thick.
  expect(job.layers.thickness).toBeLessThanOrEqual(0.75 * machine.nozzle.diameter);
});
