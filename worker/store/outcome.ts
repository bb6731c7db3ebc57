/** The state or end of a job in a few words: one that finished with errors is not one that finished. */
import type { JobRecord } from './job.js';

const counted = (count: number, what: string): string[] =>
  count > 0 ? [`${count} ${what}${count === 1 ? '' : 's'}`] : [];

/** `waiting`, `finished`, `finished, 1 error`, `finished, 2 warnings`, ... */
export function outcome({ state, summary }: Pick<JobRecord, 'state' | 'summary'>): string {
  if (state !== 'finished' || !summary) return state;
  const { errors, warnings } = summary;
  const found = [...counted(errors, 'error'), ...(errors > 0 ? [] : counted(warnings, 'warning'))];
  return [state, ...found].join(', ');
}

/** The findings of a finished job in words. */
export function findingCounts({ errors, warnings }: NonNullable<JobRecord['summary']>): string {
  const found = [...counted(errors, 'error'), ...counted(warnings, 'warning')];
  return found.length > 0 ? found.join(', ') : 'none';
}

/** Printing time, as every command and page says it: hours, minutes and seconds. */
export function duration(seconds: number): string {
  const s = Math.round(seconds);
  const h = Math.floor(s / 3600);
  return `${h ? `${h} h ` : ''}${Math.floor((s % 3600) / 60)} min ${s % 60} s`;
}
