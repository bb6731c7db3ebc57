/** How a Fault is answered over HTTP: its code decides the status, its data is the body. */
import { STATUS_CODES } from 'node:http';
import type { FastifyReply } from 'fastify';
import { z } from 'zod';
import { Fault, type FaultData } from '../../lib/index.js';
import { withoutPaths } from '../runner/paths.js';

/** First match counts; everything else is 422: understood, but refused as it is. */
const STATUS: readonly [RegExp, number][] = [
  [/^request\/too-large$/, 413],
  [/^request\/media-type$/, 415],
  [/^request\/too-long$/, 414],
  [/^request\/head$/, 431],
  [/^request\/expectation$/, 417],
  [/^(request|upload)\/too-slow$/, 408],
  [/^upload\/too-many$/, 429],
  [/^upload\/left$/, 400],
  [/^quota\/jobs$/, 429],
  [/^quota\/bytes$/, 507],
  [/^request\//, 400],
  [/^auth\/token$/, 401],
  [/^auth\/rate$/, 429],
  [/^auth\//, 403],
  [/\/unknown$/, 404],
  [/^upload\/too-large$/, 413],
  [/^job\/(key-reused|not-ended|ended)$/, 409],
  [/^data\/full$/, 507],
  [/^(data|service)\//, 503],
];

export const statusOf = (code: string): number =>
  STATUS.find(([pattern]) => pattern.test(code))?.[1] ?? 422;

export const faultBody = z.object({
  error: z
    .object({
      code: z.string().describe('such as mesh/open-edges'),
      message: z.string().describe('value, limit and unit'),
      at: z.unknown().optional().describe('place in the input'),
      problems: z
        .array(z.object({ code: z.string(), message: z.string(), at: z.unknown().optional() }))
        .optional()
        .describe('each thing that is wrong, where there are several'),
    })
    .describe('why the request was refused'),
});

export function sendFault(reply: FastifyReply, fault: FaultData): FastifyReply {
  return reply.code(statusOf(fault.code)).send({ error: withoutPaths(fault) });
}

/** The framework's own refusals, of malformed JSON and the like, in our terms. */
export function frameworkFault(error: {
  readonly statusCode?: number;
  readonly message: string;
}): Fault | undefined {
  const { statusCode = 500, message } = error;
  if (statusCode === 413) return new Fault('request/too-large', message);
  if (statusCode === 414) return new Fault('request/too-long', 'a name in the address is too long');
  if (statusCode === 415) return new Fault('request/media-type', message);
  return statusCode < 500 ? new Fault('request/malformed', message) : undefined;
}

/** What the parser of the protocol refuses before there is a request. */
export function protocolFault({ code }: { readonly code?: string }): Fault {
  if (code === 'HPE_HEADER_OVERFLOW')
    return new Fault('request/head', 'address and headers hold more than 16 kB');
  if (code === 'ERR_HTTP_REQUEST_TIMEOUT')
    return new Fault('request/too-slow', 'the request did not come in time');
  return new Fault('request/malformed', 'this is no request of HTTP/1.1');
}

/** The whole answer to a connection that has no request; there is no framework to write it. */
export function bareAnswer(fault: Fault): string {
  const body = JSON.stringify({ error: fault.toData() });
  const status = statusOf(fault.code);
  return [
    `HTTP/1.1 ${status} ${STATUS_CODES[status]}`,
    'Content-Type: application/json; charset=utf-8',
    `Content-Length: ${Buffer.byteLength(body)}`,
    'Connection: close',
    '',
    body,
  ].join('\r\n');
}
