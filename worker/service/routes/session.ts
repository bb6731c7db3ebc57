/** The page shows its token once and has a session from then on, whose cookie no script can read. */
import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import { SESSION_MS } from '../../store/sessions.js';
import { COOKIE, bearerOf } from '../entry.js';
import { type Context, asked, published } from '../context.js';

const body = z.object({ remember: z.boolean().default(false).describe('for 30 days') });

export function sessionRoutes(app: FastifyInstance, { data, settings }: Context): void {
  /** Behind a proxy that speaks TLS the browser sends the cookie over TLS alone. */
  const cookie = {
    path: '/',
    httpOnly: true,
    sameSite: 'strict',
    secure: settings.proxy !== undefined,
  } as const;
  app.post(
    '/v1/session',
    {
      schema: {
        summary: 'Begin a session with the token of this request; a cookie names it',
        description: 'The session ends after 30 days, when it is ended, or with its token.',
        tags: ['who may'],
        body: published(body),
      },
    },
    async (request, reply) => {
      const { remember } = asked(body, request.body ?? {});
      const bearer = bearerOf(request);
      const token = bearer === undefined ? undefined : data.tokens.owner(bearer);
      if (token !== undefined)
        reply.setCookie(COOKIE, data.sessions.begin(token, Date.now()), {
          ...cookie,
          ...(remember ? { maxAge: SESSION_MS / 1000 } : {}),
        });
      return reply.code(204).send();
    },
  );
  app.delete(
    '/v1/session',
    { schema: { summary: 'End the session of the cookie', tags: ['who may'] } },
    async (request, reply) => {
      const secret = request.cookies[COOKIE];
      if (secret !== undefined) data.sessions.end(secret);
      return reply.clearCookie(COOKIE, cookie).code(204).send();
    },
  );
}
