/** The settings with which a service starts. */
import type { RunnerSettings } from '../runner/runner.js';
import type { Quota } from '../store/usage.js';
import type { UploadLimits } from './uploads.js';

export interface ServiceSettings {
  readonly host: string;
  /** 0: any free one. */
  readonly port: number;
  readonly runner: Omit<RunnerSettings, 'code'>;
  /** The largest upload. */
  readonly uploadMb: number;
  readonly uploads: UploadLimits;
  /** What each token may have. */
  readonly quota: Quota;
  /**
   * Address of a proxy that speaks TLS for the service: cookies are for TLS alone, the addresses of
   * clients are those that the proxy names, and everyone needs a token.
   */
  readonly proxy?: string;
  /** Limits of looking at an upload. */
  readonly inspectMb: number;
  readonly inspectSeconds: number;
  /** Requests a minute from one address beyond this machine. */
  readonly rate: number;
}

export const LOOPBACK = ['127.0.0.1', '::1', 'localhost'];

/** Whether only this machine itself reaches the service, so that nobody needs a token. */
export const isAlone = ({ host, proxy }: ServiceSettings): boolean =>
  LOOPBACK.includes(host) && proxy === undefined;
