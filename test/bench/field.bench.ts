/**
 * A field of about 100,000 tetrahedra (lattice, both starts grown and judged, the better laid flat) against the 6 s of
 * processor time that are given to it, and how its time grows from 24,000 tetrahedra: the exponent e in time ~
 * tetrahedra^e, 1 but for the steps that the linear solver needs.
 */
import { DEG } from '../../lib/base/vector.js';
import { planField } from '../../lib/field/plan-field.js';
import { sampleMachine } from '../support/jobs.js';
import { mushroom } from '../support/shapes.js';
import type { Row } from './bench.js';

const WANTED_MS = 6000;
const FINE = 1.2;
const COARSE = 2;

export function run(): Promise<Row[]> {
  const machine = sampleMachine('table-table-ac');
  const part = mushroom();
  const planned = (spacing: number): { tetrahedra: number; ms: number } => {
    const rules = { spacing, overhang: 45 * DEG, tilt: 90 * DEG, lean: 5 * DEG, follow: 0 };
    const before = process.cpuUsage();
    const { map } = planField(part, machine, { ...rules, stretch: [0.67, 2] });
    const { user, system } = process.cpuUsage(before);
    return { tetrahedra: map.lattice.shape.length, ms: (user + system) / 1000 };
  };
  planned(COARSE);
  const [few, many] = [planned(COARSE), planned(FINE)];
  const per100k = (many.ms / many.tetrahedra) * 100_000;
  const exponent = Math.log(many.ms / few.ms) / Math.log(many.tetrahedra / few.tetrahedra);
  return Promise.resolve([
    {
      name: `a field of 100,000 tetrahedra (measured on ${many.tetrahedra}), what it may take: processor ms`,
      a: per100k,
      b: WANTED_MS,
      ratio: WANTED_MS / per100k,
      want: { least: 1 },
    },
    {
      name: `a field of ${few.tetrahedra} and of ${many.tetrahedra} tetrahedra: exponent`,
      a: few.ms,
      b: many.ms,
      ratio: exponent,
      want: { most: 1.2 },
    },
  ]);
}
