/** Results: the names come from the store, and a name that is not among them leads nowhere. */
import { createReadStream } from 'node:fs';
import { extname, join } from 'node:path';
import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import { Fault } from '../../../lib/index.js';
import { type Context, WHOLE_PAGE, asked, jobOf, jobParams, published } from '../context.js';

const TYPES: Readonly<Record<string, string>> = {
  '.json': 'application/json',
  '.svg': 'image/svg+xml',
  '.html': 'text/html; charset=utf-8',
  '.ngc': 'text/plain; charset=us-ascii',
  '.stl': 'model/stl',
  '.3mf': 'model/3mf',
  '.glb': 'model/gltf-binary',
};
/** Shown in the browser; everything else is saved. */
const SHOWN = ['.json', '.svg', '.html'];

const fileParams = jobParams.extend({ '*': z.string().describe('name of the file') });
const filesBody = z.object({
  files: z.array(z.object({ name: z.string(), bytes: z.number() })),
});

export function fileRoutes(app: FastifyInstance, context: Context): void {
  const { jobs, folder } = context.data;
  app.get(
    '/v1/jobs/:id/files',
    {
      schema: {
        summary: 'Files of a finished job',
        tags: ['results'],
        params: published(jobParams),
        response: { 200: published(filesBody, 'output') },
      },
    },
    async (request) => ({ files: jobs.files(jobOf(context, request.params).id) }),
  );
  app.get(
    '/v1/jobs/:id/files/*',
    {
      schema: {
        summary: 'A file: program.ngc, report.json, regions.svg, ...',
        tags: ['results'],
        params: published(fileParams),
      },
    },
    async (request, reply) => {
      const { id } = jobOf(context, request.params);
      const asks = asked(fileParams, request.params)['*'];
      const file = jobs.files(id).find((f) => f.name === asks);
      if (!file) throw new Fault('file/unknown', `job ${id} has no such file`);
      const kind = extname(file.name);
      const base = file.name.split('/').at(-1)!;
      reply.header('content-type', TYPES[kind] ?? 'application/octet-stream');
      reply.header('content-length', file.bytes);
      reply.header('content-security-policy', WHOLE_PAGE);
      if (!SHOWN.includes(kind)) {
        reply.header('content-disposition', `attachment; filename="job-${id}-${base}"`);
      }
      return reply.send(createReadStream(join(folder.result(id, jobs.attempt(id)), file.name)));
    },
  );
}
