/** Machines and materials by name. */
import { readFileSync } from 'node:fs';
import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import { machinePage, schemaOf } from '../../../lib/index.js';
import { built } from '../../built.js';
import { KINDS } from '../../store/library.js';
import { type Context, MACHINE_BYTES, WHOLE_PAGE, asked, published } from '../context.js';

export const libraryName = z
  .string()
  .regex(/^[\p{L}\p{N}][\p{L}\p{N} ._-]{0,63}$/u, '1 to 64 letters, digits, spaces, . _ -');
const params = z.object({ name: libraryName });
const names = z.object({ names: z.array(z.string()) });
const file = z.record(z.string(), z.unknown());

export function libraryRoutes(app: FastifyInstance, context: Context): void {
  const { library } = context.data;
  for (const kind of KINDS) {
    const tags = [`${kind}s`];
    const named = { tags, params: published(params) };
    const content = schemaOf(kind);
    app.get(
      `/v1/${kind}s`,
      {
        schema: {
          summary: `Names of the ${kind}s in the library`,
          tags,
          response: { 200: published(names, 'output') },
        },
      },
      async () => ({ names: library.names(kind) }),
    );
    app.get(
      `/v1/${kind}s/:name`,
      { schema: { summary: `A ${kind} file`, ...named, response: { 200: content } } },
      async (request) => library.get(kind, asked(params, request.params).name),
    );
    app.put(
      `/v1/${kind}s/:name`,
      {
        bodyLimit: MACHINE_BYTES,
        schema: { summary: `Put a ${kind} file into the library`, ...named, body: content },
      },
      async (request, reply) => {
        const { name } = asked(params, request.params);
        library.put(kind, name, asked(file, request.body), Date.now());
        return reply.code(204).send();
      },
    );
    app.delete(
      `/v1/${kind}s/:name`,
      { schema: { summary: `Remove a ${kind} file; jobs keep their copies`, ...named } },
      async (request, reply) => {
        library.remove(kind, asked(params, request.params).name);
        return reply.code(204).send();
      },
    );
  }
  machinePageRoute(app, context);
}

/** The page works everything out in the browser: a machine with large meshes holds up nobody here. */
function machinePageRoute(app: FastifyInstance, { data: { library } }: Context): void {
  const template = readFileSync(built('../page/machine.html'), 'utf8');
  app.get(
    '/v1/machines/:name/page',
    {
      schema: {
        summary: 'A page that shows a machine and moves its joints: one file of HTML',
        tags: ['machines'],
        params: published(params),
        response: {
          200: {
            description: 'the page',
            content: { 'text/html': { schema: { type: 'string' } } },
          },
        },
      },
    },
    async (request, reply) => {
      const { name } = asked(params, request.params);
      const page = machinePage(template, name, library.get('machine', name));
      return reply
        .type('text/html; charset=utf-8')
        .header('content-security-policy', WHOLE_PAGE)
        .header('cache-control', 'no-cache')
        .send(page);
    },
  );
}
