/** What follows for a job from the error with which its work ended. */
import { Fault, type FaultData } from '../../lib/index.js';
import { Ended } from './bench.js';

export interface Verdict {
  readonly next: 'fail' | 'again' | 'release';
  readonly reason: FaultData;
}

/** What follows from an error: a refusal or a limit is final, a crash may be chance. */
export function verdictOf(error: unknown): Verdict {
  if (error instanceof Fault) return { next: 'fail', reason: error.toData() };
  const message = (error as Error).message;
  if (error instanceof Ended) {
    switch (error.why) {
      case 'memory':
        return {
          next: 'fail',
          reason: { code: 'job/too-much-memory', message: `the job ${message}` },
        };
      case 'time':
        return { next: 'fail', reason: { code: 'job/too-long', message: `the job ${message}` } };
      case 'stopped':
        return { next: 'release', reason: { code: 'job/stopped', message: `the job ${message}` } };
      case 'crash':
        return {
          next: 'again',
          reason: { code: 'job/crashed', message: `the job crashed: ${message}` },
        };
    }
  }
  return {
    next: 'again',
    reason: { code: 'job/defect', message: `a defect of the program: ${message}` },
  };
}

export function asFault(error: unknown): Fault {
  if (error instanceof Fault) return error;
  return new Fault('job/defect', `a defect of the program: ${(error as Error).message}`);
}
