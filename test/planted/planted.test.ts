/** A sample of `npm run planted`: the small part, in its last region, with the part known and without. */
import { beforeAll, describe, expect, it } from 'vitest';
import { faults } from './faults.js';
import { type Printed, smallPart } from './parts.js';
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
    const rows = runFault(fault, printed, printed.regions[1]);
    expect(rows.map((r) => r.outcome)).toEqual(['pass', 'pass']);
  });
});
