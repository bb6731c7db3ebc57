/** A submission, from the API or the watched folder, as an order with everything in it checked. */
import { z } from 'zod';
import { Fault, jobFile, parse } from '../../lib/index.js';
import { digestOf } from '../runner/digest.js';
import type { Data } from '../store/data.js';
import type { Submission } from '../store/jobs.js';
import { type Quota } from '../store/usage.js';
import { KINDS, type Kind, checked } from '../store/library.js';

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

/** @throws Fault `job/missing` for a machine or material that nobody chose */
export function checkChosen(asks: unknown, from = 'or send the content of its file'): void {
  if (typeof asks !== 'object' || asks === null) return;
  for (const kind of KINDS)
    if (((asks as Record<string, unknown>)[kind] ?? '') === '')
      throw new Fault(
        'job/missing',
        `no ${kind} given: name one of the library, ${from}; the service chooses none by itself`,
      );
}

/** @throws Fault `library/unknown`, `machine/*`, `material/*` */
export const contentOf = (
  data: Data,
  kind: Kind,
  given: string | Record<string, unknown>,
): unknown => (typeof given === 'string' ? data.library.get(kind, given) : checked(kind, given));

/**
 * @param key idempotency key: sent again with the same job it gives the same job
 * @param sender in whose name it comes, and what it may have
 * @throws Fault `part/unknown`, `library/unknown`, `job/*`, `machine/*`, `material/*`, `quota/*`
 */
export function submit(
  data: Data,
  asks: z.output<typeof submission>,
  key: string | undefined,
  sender?: { readonly token: string; readonly quota: Quota },
): Submission {
  const part = data.parts.show(asks.part);
  if (!part) throw new Fault('part/unknown', `there is no part ${asks.part}`);
  const order = {
    name: asks.name ?? part.name,
    part: asks.part,
    partName: part.name,
    machine: contentOf(data, 'machine', asks.machine),
    material: contentOf(data, 'material', asks.material),
    settings: parse(jobSettings, asks.settings, 'job'),
    priority: asks.priority,
  };
  const keyed = key === undefined ? undefined : { key, digest: digestOf(asks) };
  if (!sender) return data.jobs.submit(order, keyed);
  const { token, quota } = sender;
  const check = (): void => {
    data.usage.checkJobs(token, quota);
    data.usage.bytesLeft(token, quota);
  };
  return data.jobs.submit(order, keyed, { token, check });
}

/** A submission that asks for the same job again; what the library still holds stands by its name. */
export function askedAgain(data: Data, id: number): z.output<typeof submission> {
  const { part, name, machine, material, settings, priority } = data.jobs.order(id)!;
  const named = (kind: Kind, content: unknown): string | Record<string, unknown> => {
    const digest = digestOf(content);
    const same = (n: string): boolean => digestOf(data.library.get(kind, n)) === digest;
    return data.library.names(kind).find(same) ?? (content as Record<string, unknown>);
  };
  return {
    part,
    name,
    machine: named('machine', machine),
    material: named('material', material),
    settings: settings as Record<string, unknown>,
    priority,
  };
}
