/** The page shows its token once and has a cookie from then on, which no script can read. */
import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import { COOKIE } from '../entry.js';
import { type Context, asked, published } from '../context.js';

const body = z.object({ remember: z.boolean().default(false).describe('for 30 days') });
const MONTH = 30 * 24 * 3600;

export function sessionRoutes(app: FastifyInstance, _context: Context): void {
  app.post(
    '/v1/session',
    {
      schema: {
        summary: 'Keep the token of this request in a cookie',
        tags: ['who may'],
        body: published(body),
      },
    },
    async (request, reply) => {
      const { remember } = asked(body, request.body ?? {});
      const token = /^Bearer (\S+)$/i.exec(request.headers.authorization ?? '')?.[1];
      if (token)
        reply.setCookie(COOKIE, token, {
          path: '/',
          httpOnly: true,
          sameSite: 'strict',
          ...(remember ? { maxAge: MONTH } : {}),
        });
      return reply.code(204).send();
    },
  );
  app.delete(
    '/v1/session',
    { schema: { summary: 'Forget the cookie', tags: ['who may'] } },
    async (_request, reply) => reply.clearCookie(COOKIE, { path: '/' }).code(204).send(),
  );
}
