/**
 * Who may. On loopback alone everyone on the machine may, but no page of another site may act through
 * a browser: the Host must be this machine, and an Origin must be the service's own. Beyond loopback
 * every request but those for the empty page shows a token, as a bearer or as a cookie.
 */
import cookie from '@fastify/cookie';
import rateLimit from '@fastify/rate-limit';
import type { FastifyInstance, FastifyRequest } from 'fastify';
import { Fault } from '../../lib/base/fault.js';
import type { Context } from './context.js';
import { LOOPBACK } from './settings.js';

declare module 'fastify' {
  interface FastifyContextConfig {
    /** Answered without a token: holds nothing of anybody. */
    open?: boolean;
  }
}

export const COOKIE = 'tiltwright';
/** Wrong tokens a minute from one address. */
const WRONG = 10;

export async function guardEntry(app: FastifyInstance, context: Context): Promise<void> {
  const { host, rate } = context.settings;
  const alone = LOOPBACK.includes(host);
  await app.register(cookie);
  await app.register(rateLimit, {
    global: !alone,
    max: rate,
    timeWindow: '1 minute',
    errorResponseBuilder: (_request, { max, after }) =>
      new Fault('auth/rate', `more than ${max} requests a minute; try again in ${after}`),
  });
  const wrong = app.createRateLimit({ max: WRONG, timeWindow: '1 minute' });
  app.addHook('onRequest', async (request) => {
    if (alone) checkHost(request);
    checkOrigin(request);
    if (alone || request.routeOptions.config.open) return;
    const token = tokenOf(request);
    if (token !== undefined && context.data.tokens.owner(token)) return;
    const tries = token === undefined ? undefined : await wrong(request);
    if (tries && !tries.isAllowed && tries.isExceeded)
      throw new Fault('auth/rate', `more than ${WRONG} wrong tokens a minute`);
    throw new Fault('auth/token', 'a valid token is needed: Authorization: Bearer <token>');
  });
}

function tokenOf(request: FastifyRequest): string | undefined {
  const bearer = /^Bearer (\S+)$/i.exec(request.headers.authorization ?? '')?.[1];
  return bearer ?? request.cookies[COOKIE];
}

/** A name that leads to this machine by a stranger's wish is no name of ours. */
function checkHost(request: FastifyRequest): void {
  const name = request.hostname.replace(/^\[|\]$/g, '');
  if (!LOOPBACK.includes(name))
    throw new Fault('auth/host', `the service answers to ${LOOPBACK.join(', ')}, not to ${name}`);
}

function checkOrigin(request: FastifyRequest): void {
  const { origin } = request.headers;
  if (origin === undefined) return;
  const host = URL.canParse(origin) ? new URL(origin).host : origin;
  if (host !== request.host)
    throw new Fault('auth/origin', `requests from pages of ${host} are not answered`);
}
