/**
 * Who has access. On loopback alone everyone on the machine has, but no page of another site may act
 * through a browser: the Host must be this machine, and an Origin must be the service's own. Beyond
 * loopback every request but those for the empty page shows a token as a bearer, or the cookie of a session
 * that was begun with one.
 */
import cookie from '@fastify/cookie';
import rateLimit from '@fastify/rate-limit';
import type { FastifyInstance, FastifyRequest } from 'fastify';
import { Fault } from '../../lib/index.js';
import type { Data } from '../store/data.js';
import type { Context } from './context.js';
import { LOOPBACK, isAlone } from './settings.js';
import { Windows } from './windows.js';

declare module 'fastify' {
  interface FastifyContextConfig {
    /** Answered without a token: holds nothing of anybody. */
    open?: boolean;
  }
  interface FastifyRequest {
    /** Name of the token in whose name the request comes; nothing where nobody needs one. */
    token: string | undefined;
  }
}

export const COOKIE = 'tiltwright';
/** Wrong tokens a minute from one address. */
const WRONG = 10;

export async function guardEntry(app: FastifyInstance, context: Context): Promise<void> {
  const alone = isAlone(context.settings);
  await app.register(cookie);
  await app.register(rateLimit, {
    global: !alone,
    max: context.settings.rate,
    timeWindow: '1 minute',
    store: Windows as never,
    errorResponseBuilder: (_request, { max, after }) =>
      new Fault('auth/rate', `more than ${max} requests a minute; try again in ${after}`),
  });
  const wrong = app.createRateLimit({ max: WRONG, timeWindow: '1 minute' });
  app.decorateRequest('token', undefined);
  app.addHook('onRequest', async (request) => {
    checkHosts(request);
    if (alone) checkHost(request);
    checkOrigin(request);
    if (alone || request.routeOptions.config.open) return;
    request.token = ownerOf(request, context.data);
    if (request.token !== undefined) return;
    const shown = bearerOf(request) ?? request.cookies[COOKIE];
    const tries = shown === undefined ? undefined : await wrong(request);
    if (tries && !tries.isAllowed && tries.isExceeded)
      throw new Fault('auth/rate', `more than ${WRONG} wrong tokens a minute`);
    throw new Fault('auth/token', 'a valid token is needed: Authorization: Bearer <token>');
  });
}

export const bearerOf = (request: FastifyRequest): string | undefined =>
  /^Bearer (\S+)$/i.exec(request.headers.authorization ?? '')?.[1];

/** Name of the token that a request shows, or whose session it shows; nothing if it is worth nothing. */
function ownerOf(request: FastifyRequest, { tokens, sessions }: Data): string | undefined {
  const bearer = bearerOf(request);
  if (bearer !== undefined) return tokens.owner(bearer);
  const secret = request.cookies[COOKIE];
  return secret === undefined ? undefined : sessions.owner(secret, Date.now());
}

/** Asks again, for what lasts longer than a request, whether its sender still may. */
export const stillMay =
  (request: FastifyRequest, { data, settings }: Context): (() => boolean) =>
  () =>
    isAlone(settings) || ownerOf(request, data) !== undefined;

/** With two names, a proxy and the service might each believe another one. */
function checkHosts({ raw }: FastifyRequest): void {
  const names = raw.rawHeaders.filter((name, i) => i % 2 === 0 && name.toLowerCase() === 'host');
  if (names.length !== 1)
    throw new Fault('request/host', `a request has one Host header; this one has ${names.length}`);
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
