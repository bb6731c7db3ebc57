/** Figures of a job in words. */
import type { JobRecord, Progress } from '../../../store/job.js';
import { duration } from '../../../store/outcome.js';

export function size(bytes: number): string {
  return bytes < 1e6 ? `${Math.ceil(bytes / 1000)} kB` : `${(bytes / 1e6).toFixed(1)} MB`;
}

/** One line of how a job stands, or what came of it. */
export function standing({ state, progress, reason, summary, due }: JobRecord): string {
  if (summary) {
    const count = summary.regions === 1 ? 'one region' : `${summary.regions} regions`;
    return `${count}, about ${duration(summary.seconds)}, ${summary.massG.toFixed(1)} g`;
  }
  if (state === 'running' && progress) return advance(progress);
  if (reason) {
    const again =
      state === 'waiting' && due ? `; again at ${new Date(due).toLocaleTimeString()}` : '';
    return `${reason.message}${again}`;
  }
  return '';
}

export const advance = ({ stage, share }: Progress): string =>
  `${Math.floor(100 * share)} %, at the stage: ${stage}`;
