/** A submission, from the API or the watched folder, becomes an order with everything in it checked. */
import { z } from 'zod';
import { Fault } from '../../lib/base/fault.js';
import { parse } from '../../lib/base/schema.js';
import { jobFile } from '../../lib/job.js';
import { digestOf } from '../runner/digest.js';
import type { Data } from '../store/data.js';
import type { Submission } from '../store/jobs.js';
import { type Kind, checked } from '../store/library.js';

/** The job file without what is named beside it. */
export const jobSettings = jobFile.omit({ part: true, machine: true, material: true });

const named = (kind: Kind): z.ZodType<string | Record<string, unknown>> =>
  z
    .union([z.string(), z.record(z.string(), z.unknown())])
    .describe(`name of a ${kind} in the library, or a ${kind} file's content`);

export const submission = z.strictObject({
  part: z
    .string()
    .regex(/^[0-9a-f]{64}$/, '64 hexadecimal digits')
    .describe('id of an uploaded part'),
  machine: named('machine'),
  material: named('material'),
  settings: z.record(z.string(), z.unknown()).default({}).describe('job file'),
  name: z.string().max(200).optional().describe('for people; the name of the part if left out'),
  priority: z.number().int().min(-10).max(10).default(0).describe('the higher, the sooner'),
});

/**
 * @param key idempotency key: sent again with the same job it gives the same job
 * @throws Fault `part/unknown`, `library/unknown`, `job/*`, `machine/*`, `material/*`
 */
export function submit(
  data: Data,
  asks: z.output<typeof submission>,
  key: string | undefined,
): Submission {
  const part = data.parts.show(asks.part);
  if (!part) throw new Fault('part/unknown', `there is no part ${asks.part}`);
  const take = (kind: Kind, given: string | Record<string, unknown>): unknown =>
    typeof given === 'string' ? data.library.get(kind, given) : checked(kind, given);
  const order = {
    name: asks.name ?? part.name,
    part: asks.part,
    partName: part.name,
    machine: take('machine', asks.machine),
    material: take('material', asks.material),
    settings: parse(jobSettings, asks.settings, 'job'),
    priority: asks.priority,
  };
  return data.jobs.submit(order, key === undefined ? undefined : { key, digest: digestOf(asks) });
}
