/** Parts are uploaded as a stream of bytes; the content says what kind they are, never name or header. */
import type { FastifyInstance, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { Fault } from '../../../lib/index.js';
import type { PartRecord } from '../../store/job.js';
import { tooLarge } from '../../store/parts.js';
import { type Context, asked, published } from '../context.js';
import { stillMay } from '../entry.js';

/** What a client that was refused still sends is read for so long, so that it hears why. */
const DRAIN_MS = 2000;

const query = z.object({
  name: z
    .string()
    .min(1)
    .max(255)
    .regex(/^(?!\.{1,2}$)[^\p{Cc}/\\]*$/u, 'a file name without folders and control characters')
    .default('part')
    .describe('name of the file, for people'),
});
const params = z.object({ id: z.string().regex(/^[0-9a-f]{64}$/, '64 hexadecimal digits') });

export const partBody = z.object({
  id: z.string().describe('SHA-256 of the bytes'),
  name: z.string(),
  bytes: z.number(),
  format: z.string().describe('found from the content: STL, OBJ, PLY, 3MF, GLB or STEP'),
  inspection: z.unknown().describe('figures of the mesh, what was healed, findings'),
  made: z.number().describe('ms since 1970'),
});

export function partRoutes(app: FastifyInstance, context: Context): void {
  app.post(
    '/v1/parts',
    {
      schema: {
        summary: 'Upload a part: STL, OBJ, PLY, 3MF, GLB or STEP',
        description:
          'The body is the file itself. The part is read and inspected before the answer.',
        tags: ['parts'],
        consumes: ['application/octet-stream'],
        querystring: published(query),
        response: { 201: published(partBody, 'output') },
      },
    },
    async (request, reply) => {
      const { name } = asked(query, request.query);
      try {
        const part = await take(context, request, name);
        context.metrics.uploads.inc({ outcome: 'taken' });
        return reply.code(201).send(part);
      } catch (error) {
        context.metrics.uploads.inc({ outcome: 'refused' });
        setTimeout(() => request.raw.destroy(), DRAIN_MS).unref();
        request.raw.resume();
        throw error;
      }
    },
  );
  app.get(
    '/v1/parts/:id',
    {
      schema: {
        summary: 'What a part is',
        tags: ['parts'],
        params: published(params),
        response: { 200: published(partBody, 'output') },
      },
    },
    async (request) => {
      const { id } = asked(params, request.params);
      const part = context.data.parts.show(id);
      if (!part) throw new Fault('part/unknown', `there is no part ${id}`);
      return part;
    },
  );
}

async function take(context: Context, request: FastifyRequest, name: string): Promise<PartRecord> {
  const { data, inspector, settings, uploads } = context;
  const { token, ip: address } = request;
  const left = token === undefined ? Infinity : data.usage.bytesLeft(token, settings.quota);
  const limit = Math.min(settings.uploadMb * 1e6, left);
  /** Which of the two limits it was. */
  const refused = (fault: Fault): Fault =>
    fault.code === 'upload/too-large' && limit === left
      ? new Fault(
          'quota/bytes',
          `${token} may bring ${(left / 1e6).toFixed(1)} MB more; its limit of parts and results is ${settings.quota.bytes / 1e6} MB`,
        )
      : fault;
  const declared = Number(request.headers['content-length'] ?? 0);
  if (declared > limit) throw refused(tooLarge(declared, limit));
  // Left whole, so that a client that was refused can still be answered.
  const pieces = request.raw.iterator({ destroyOnReturn: false }) as AsyncIterable<Uint8Array>;
  const coming = uploads.admit(pieces, { token, address }, stillMay(request, context));
  const received = await data.parts.receive(coming, limit).catch((error: unknown) => {
    throw error instanceof Fault ? refused(error) : error;
  });
  try {
    const { format, inspection } = await inspector.inspect(received.path, name, token ?? address);
    const part = await data.parts.keep(received, { name, format, inspection }, Date.now());
    if (token !== undefined) data.usage.hold(token, part.id);
    return part;
  } finally {
    await data.parts.drop(received);
  }
}
