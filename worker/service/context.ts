/** What the routes share. */
import { z } from 'zod';
import { Fault, parse } from '../../lib/index.js';
import type { Runner } from '../runner/runner.js';
import type { Data } from '../store/data.js';
import type { JobRecord } from '../store/job.js';
import type { Inspector } from './inspector.js';
import type { Metrics } from './metrics.js';
import type { ServiceSettings } from './settings.js';
import type { Uploads } from './uploads.js';

export interface Context {
  readonly data: Data;
  readonly runner: Runner;
  readonly inspector: Inspector;
  readonly metrics: Metrics;
  readonly uploads: Uploads;
  readonly settings: ServiceSettings;
}

/** Greatest body of a request that may carry a machine with its meshes. */
export const MACHINE_BYTES = 16_000_000;

/**
 * Content security policy of a page that is whole in itself: it may run what it holds, reach nothing, and is no
 * page of the service's own.
 */
export const WHOLE_PAGE =
  "sandbox allow-scripts allow-downloads; default-src 'none'; img-src data: blob:; font-src data:; style-src 'unsafe-inline'; script-src 'unsafe-inline'";

/** A part of a request as its schema says. @throws Fault `request/*` */
export const asked = <S extends z.ZodType>(schema: S, value: unknown): z.output<S> =>
  parse(schema, value, 'request');

/** The published form of a schema. */
export function published(schema: z.ZodType, io: 'input' | 'output' = 'input'): object {
  const json = z.toJSONSchema(schema, { io, unrepresentable: 'any' });
  delete json.$schema;
  return json;
}

export const jobParams = z.object({
  id: z.coerce.number().int().positive().describe('number of the job'),
});

/** @throws Fault `job/unknown` */
export function jobOf(context: Context, params: unknown): JobRecord {
  const { id } = asked(jobParams, params);
  const job = context.data.jobs.show(id);
  if (!job) throw new Fault('job/unknown', `there is no job ${id}`);
  return job;
}
