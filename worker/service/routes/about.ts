/** The service itself: health, metrics, schemas, the description of the API. */
import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import { schemaOf } from '../../../lib/index.js';
import { withoutPaths } from '../../runner/paths.js';
import { version } from '../../version.js';
import { type Context, asked, published } from '../context.js';
import { jobSettings } from '../submit.js';

const schemaParams = z.object({ what: z.enum(['settings', 'job', 'machine', 'material']) });
const healthBody = z.object({
  status: z.enum(['ok', 'trouble']),
  version: z.string().optional(),
  trouble: z.object({ code: z.string(), message: z.string() }).optional(),
  jobs: z.record(z.string(), z.number()).optional().describe('in each state'),
});

export function aboutRoutes(app: FastifyInstance, context: Context): void {
  const { data, runner, metrics } = context;
  app.get(
    '/v1/health',
    {
      schema: {
        summary: 'Whether work goes on; 503 if something keeps it',
        tags: ['service'],
        response: { 200: published(healthBody, 'output'), 503: published(healthBody, 'output') },
      },
    },
    async (_request, reply) => {
      const trouble = runner.trouble && withoutPaths(runner.trouble.toData(), data.folder.path);
      return reply.code(trouble ? 503 : 200).send({
        status: trouble ? 'trouble' : 'ok',
        version,
        ...(trouble ? { trouble } : {}),
        jobs: data.jobs.counts(),
      });
    },
  );
  app.get(
    '/v1/metrics',
    { schema: { summary: 'Figures in the text format of metrics collectors', tags: ['service'] } },
    async (_request, reply) =>
      reply.type(metrics.registry.contentType).send(await metrics.registry.metrics()),
  );
  app.get(
    '/v1/schemas/:what',
    {
      schema: {
        summary: 'JSON Schema of a machine, material or job file, or of the settings of a job',
        tags: ['service'],
        params: published(schemaParams),
      },
    },
    async (request) => {
      const { what } = asked(schemaParams, request.params);
      return what === 'settings' ? published(jobSettings) : schemaOf(what);
    },
  );
  app.get(
    '/v1/openapi.json',
    { schema: { summary: 'This description', tags: ['service'] } },
    async () => app.swagger(),
  );
}
