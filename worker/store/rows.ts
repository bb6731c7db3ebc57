/** Rows of the database as records. */
import type { FaultData } from '../../lib/index.js';
import type { Row } from './database.js';
import type { JobEvent, JobRecord, Progress, State, Summary } from './job.js';
import type { Claim } from './queue.js';

export function claimOf(row: Row, owner: string): Claim {
  const json = (key: string): unknown => JSON.parse(String(row[key]));
  return {
    hold: { id: Number(row['id']), owner, attempt: Number(row['attempt']) },
    order: {
      name: String(row['name']),
      part: String(row['part']),
      partName: String(row['part_name']),
      machine: json('machine'),
      material: json('material'),
      settings: json('settings'),
      priority: Number(row['priority']),
    },
    made: Number(row['made']),
    ...(row['idem'] === null
      ? {}
      : { key: { key: String(row['idem']), digest: String(row['idem_digest']) } }),
  };
}

export function recordOf(row: Row): JobRecord {
  const state = row['state'] as State;
  const json = <T>(key: string): T => JSON.parse(String(row[key])) as T;
  const summary = row['summary'] === null ? undefined : json<Summary>('summary');
  const exit = state === 'failed' ? 1 : summary && (summary.errors > 0 ? 3 : 0);
  return {
    id: Number(row['id']),
    state,
    name: String(row['name']),
    part: String(row['part']),
    partName: String(row['part_name']),
    machineName: String(row['machine_name']),
    materialName: String(row['material_name']),
    priority: Number(row['priority']),
    made: Number(row['made']),
    ...(row['started'] === null ? {} : { started: Number(row['started']) }),
    ...(row['ended'] === null ? {} : { ended: Number(row['ended']) }),
    ...(state === 'waiting' ? { due: Number(row['due']) } : {}),
    tries: Number(row['tries']),
    losses: Number(row['losses']),
    ...(row['progress'] === null ? {} : { progress: json<Progress>('progress') }),
    ...(row['reason'] === null ? {} : { reason: json<FaultData>('reason') }),
    ...(summary && { summary }),
    ...(exit === undefined ? {} : { exit }),
  };
}

export function eventOf(row: Row): JobEvent {
  return {
    seq: Number(row['seq']),
    job: Number(row['job']),
    at: Number(row['at']),
    kind: row['kind'] as JobEvent['kind'],
    ...(row['data'] === null ? {} : { data: JSON.parse(String(row['data'])) as unknown }),
  };
}
