/** Metrics of the service in the usual text format. */
import { Counter, Gauge, Histogram, Registry, collectDefaultMetrics } from 'prom-client';
import type { Data } from '../store/data.js';
import { STATES } from '../store/job.js';

export interface Metrics {
  readonly registry: Registry;
  readonly requests: Histogram<'method' | 'route' | 'status'>;
  readonly uploads: Counter<'outcome'>;
}

export function makeMetrics({ jobs, journal }: Data): Metrics {
  const registry = new Registry();
  const registers = [registry];
  collectDefaultMetrics({ register: registry });
  new Gauge({
    name: 'tiltwright_jobs',
    help: 'Jobs in each state',
    labelNames: ['state'],
    registers,
    collect() {
      const counts = jobs.counts();
      for (const state of STATES) this.set({ state }, counts[state]);
    },
  });
  const ended = new Counter({
    name: 'tiltwright_jobs_ended_total',
    help: 'Jobs that ended since the service started',
    labelNames: ['state'],
    registers,
  });
  journal.onEvent(({ kind }) => {
    if (kind === 'finished' || kind === 'failed' || kind === 'cancelled')
      ended.inc({ state: kind });
  });
  return {
    registry,
    requests: new Histogram({
      name: 'tiltwright_request_seconds',
      help: 'Time to answer a request',
      labelNames: ['method', 'route', 'status'],
      buckets: [0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.5, 2, 10],
      registers,
    }),
    uploads: new Counter({
      name: 'tiltwright_uploads_total',
      help: 'Uploaded parts, taken or refused',
      labelNames: ['outcome'],
      registers,
    }),
  };
}
