/** A thread of `npm run planted`: plants one fault in one region of a part that is known to it. */
import { workerData } from 'piscina';
import { faults } from './faults.js';
import type { Printed } from './parts.js';
import { type Row, runFault } from './run.js';

export interface Task {
  /** Place in the list of parts. */
  readonly part: number;
  readonly fault: string;
  readonly region: number;
}

export default function rows({ part, fault, region }: Task): Row[] {
  const printed = (workerData as readonly Printed[])[part]!;
  return runFault(
    faults.find((f) => f.name === fault)!,
    printed,
    region,
  );
}
