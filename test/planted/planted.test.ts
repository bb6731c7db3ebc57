/**
 * A sample of `npm run planted`: the small part, in its last region, and a bend in curved layers, with the part known and
 * without.
 */
import { beforeAll, describe, expect, it } from 'vitest';
import { faults } from './faults.js';
import { type Printed, bentPart, smallPart } from './parts.js';
import { errorsOf, runFault } from './run.js';

let printed: Printed;
beforeAll(async () => {
  printed = await smallPart();
});

it('the program as it was sliced has no error', () => {
  for (const known of [true, false]) {
    expect(errorsOf(printed, known)).toEqual([]);
  }
});

describe.each([
  'filament 0 from the middle to the end',
  'a layer dropped',
  'one layer, double flow',
  'a region, 1.3 times the flow',
  'region (program) 0.3 mm too high',
  'fill of a layer dropped',
])('%s', (name) => {
  it('is an error at its place, with the part and without', () => {
    const fault = faults.find((f) => f.name === name)!;
    const rows = runFault(fault, printed, printed.regions.at(-1)!);
    expect(rows.map((r) => r.outcome)).toEqual(['pass', 'pass']);
  });
});

describe('a bend in curved layers', () => {
  let bent: Printed;
  beforeAll(async () => {
    bent = await bentPart();
  });

  it('has no error as it was sliced', () => {
    for (const known of [true, false]) expect(errorsOf(bent, known)).toEqual([]);
  });

  it.each([
    'a curved layer left out',
    'azimuth off by 60 deg from the middle of a bead',
    'a curved bead, half the flow',
  ])('%s is an error at its place', (name) => {
    const fault = faults.find((f) => f.name === name)!;
    const rows = runFault(fault, bent, bent.regions[0]!);
    expect(rows.map((r) => r.outcome)).toEqual(['pass', 'pass']);
  });
});
