/** How a Fault is told over HTTP: its code decides the status, its data is the body. */
import type { FastifyReply } from 'fastify';
import { z } from 'zod';
import { Fault, type FaultData } from '../../lib/base/fault.js';

/** First match counts; everything else is 422: understood, but refused as it is. */
const STATUS: readonly [RegExp, number][] = [
  [/^request\/too-large$/, 413],
  [/^request\/media-type$/, 415],
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
    })
    .describe('why the request was refused'),
});

export function sendFault(reply: FastifyReply, fault: FaultData): FastifyReply {
  return reply.code(statusOf(fault.code)).send({ error: fault });
}

/** Fastify's own refusals, of malformed JSON and the like, in our terms. */
export function frameworkFault(error: { statusCode?: number; message: string }): Fault | undefined {
  const { statusCode = 500, message } = error;
  if (statusCode === 413) return new Fault('request/too-large', message);
  if (statusCode === 415) return new Fault('request/media-type', message);
  return statusCode < 500 ? new Fault('request/malformed', message) : undefined;
}
