/** What a service is told when it starts. */
import type { RunnerSettings } from '../runner/runner.js';

export interface ServiceSettings {
  readonly host: string;
  /** 0: any free one. */
  readonly port: number;
  readonly runner: Omit<RunnerSettings, 'code'>;
  /** The largest upload. */
  readonly uploadMb: number;
  /** Limits of looking at an upload. */
  readonly inspectMb: number;
  readonly inspectSeconds: number;
  /** Requests a minute from one address beyond this machine. */
  readonly rate: number;
}

export const LOOPBACK = ['127.0.0.1', '::1', 'localhost'];
