/** Events as they happen, as server-sent events; a listener that was cut off resumes where it was. */
import type { ServerResponse } from 'node:http';
import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { Fault } from '../../../lib/index.js';
import type { JobEvent } from '../../store/job.js';
import { type Context, asked, jobOf, jobParams, published } from '../context.js';
import { stillMay } from '../entry.js';

/** Listeners at once. */
const MOST = 200;
const BEAT_MS = 15_000;
/** A listener that does not read is let go when so much waits for it; it may resume. */
const MOST_WAITING = 1_000_000;
const PAGE = 500;
/** A listener whose token was removed hears nothing more after at most this, and no event at all. */
const ASK_MS = 1000;

const query = z.object({
  after: z.coerce.number().int().min(0).optional().describe('resume after this event'),
});

export function eventRoutes(app: FastifyInstance, context: Context): void {
  const open = new Set<ServerResponse>();
  app.addHook('preClose', async () => open.forEach((response) => response.end()));
  const schema = {
    description:
      'Each event has an id; Last-Event-ID (or `after`) resumes after it. Data is JSON: job, at, kind (a state, progress, removed) and data.',
    tags: ['events'],
    produces: ['text/event-stream'],
    querystring: published(query),
  };
  const listen = (request: FastifyRequest, reply: FastifyReply, job?: number): void => {
    const after = resumeAfter(request) ?? (job === undefined ? context.data.journal.last() : 0);
    if (open.size >= MOST)
      throw new Fault('service/busy', `${MOST} listeners are connected already`);
    reply.hijack();
    const response = reply.raw;
    open.add(response);
    response.on('close', () => open.delete(response));
    response.writeHead(200, {
      ...(reply.getHeaders() as Record<string, string>),
      'content-type': 'text/event-stream',
      'cache-control': 'no-store',
    });
    stream(response, context, after, job, stillMay(request, context));
  };
  app.get(
    '/v1/events',
    { schema: { summary: 'Events of all jobs, from now on', ...schema } },
    (request, reply) => listen(request, reply),
  );
  app.get(
    '/v1/jobs/:id/events',
    {
      schema: {
        summary: 'Events of a job, from its first',
        params: published(jobParams),
        ...schema,
      },
    },
    (request, reply) => listen(request, reply, jobOf(context, request.params).id),
  );
}

function resumeAfter(request: FastifyRequest): number | undefined {
  const last = request.headers['last-event-id'];
  const given = typeof last === 'string' && last !== '' ? { after: last } : request.query;
  return asked(query, given).after;
}

/** Sends what happened and then what happens; nothing is missed between, because both are one thread. */
function stream(
  response: ServerResponse,
  { data: { journal } }: Context,
  after: number,
  job: number | undefined,
  may: () => boolean,
): void {
  response.write('retry: 2000\n\n');
  let last = after;
  const send = (event: JobEvent): void => {
    last = event.seq;
    const { seq, ...rest } = event;
    response.write(`id: ${seq}\ndata: ${JSON.stringify(rest)}\n\n`);
    if (response.writableLength > MOST_WAITING) response.destroy();
  };
  for (let page = journal.after(last, PAGE, job); page.length > 0;) {
    page.forEach(send);
    page = response.destroyed ? [] : journal.after(last, PAGE, job);
  }
  const deaf = journal.onEvent((event) => {
    if (job !== undefined && event.job !== job) return;
    if (may()) send(event);
    else response.end();
  });
  const asking = setInterval(() => (may() ? undefined : response.end()), ASK_MS);
  const beat = setInterval(() => response.write(': still here\n\n'), BEAT_MS);
  response.on('close', () => {
    deaf();
    clearInterval(beat);
    clearInterval(asking);
  });
}
