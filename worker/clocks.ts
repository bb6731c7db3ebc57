/** The clocks by which the stages of a job are timed. */
import type { SliceTools } from '../lib/index.js';

/** Wall clock and processor time, s, for `SliceTools`. */
export const clocks: Required<Pick<SliceTools, 'clock' | 'cpuClock'>> = {
  clock: () => performance.now() / 1000,
  cpuClock: () => {
    const { user, system } = process.cpuUsage();
    return (user + system) / 1e6;
  },
};
