/** Jobs: submit, list, show, cancel, remove. */
import { rm } from 'node:fs/promises';
import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import { Fault } from '../../../lib/index.js';
import { STATES, summarySchema } from '../../store/job.js';
import { MACHINE_BYTES, type Context, asked, jobOf, jobParams, published } from '../context.js';
import { askedAgain, checkChosen, submission, submit } from '../submit.js';

const reason = z.object({ code: z.string(), message: z.string(), at: z.unknown().optional() });
export const jobBody = z.object({
  id: z.number(),
  state: z.enum(STATES),
  name: z.string(),
  part: z.string(),
  partName: z.string(),
  machineName: z.string(),
  materialName: z.string(),
  priority: z.number(),
  made: z.number().describe('ms since 1970, as all times'),
  started: z.number().optional(),
  ended: z.number().optional(),
  due: z.number().optional().describe('when a waiting job may start'),
  tries: z.number().describe('tries that ended in a crash of the job'),
  losses: z.number().describe('runners lost under the job'),
  progress: z
    .object({
      stage: z.string(),
      done: z.number().describe('of the stage'),
      total: z.number(),
      share: z.number().describe('of the whole job, 0 to 1; never falls while a try lasts'),
    })
    .optional(),
  reason: reason.optional().describe('why it failed, or what its last try ended in'),
  summary: summarySchema.optional(),
  exit: z
    .number()
    .optional()
    .describe('once ended: 0; 3 with findings of severity error; 1 if it failed'),
});

const listQuery = z.object({
  state: z
    .string()
    .transform((text) => text.split(','))
    .pipe(z.array(z.enum(STATES)))
    .optional()
    .describe(`of these states, by commas: ${STATES.join(', ')}`),
  limit: z.coerce.number().int().min(1).max(200).default(50).describe('jobs a page'),
  before: z.coerce.number().int().positive().optional().describe('jobs older than this one'),
});
const listBody = z.object({
  jobs: z.array(jobBody).describe('newest first'),
  next: z.number().optional().describe('`before` of the next page; absent on the last'),
});
const keyHeader = z.object({
  'idempotency-key': z
    .string()
    .min(1)
    .max(200)
    .optional()
    .describe('the same key brings the same job, however often it is sent'),
});

export function jobRoutes(app: FastifyInstance, context: Context): void {
  submitAndList(app, context);
  oneJob(app, context);
}

const answer = { 200: published(jobBody, 'output') };

function submitAndList(app: FastifyInstance, context: Context): void {
  const { jobs } = context.data;
  app.post(
    '/v1/jobs',
    {
      bodyLimit: MACHINE_BYTES,
      schema: {
        summary: 'Submit a job',
        tags: ['jobs'],
        headers: published(keyHeader),
        body: published(submission),
        response: { ...answer, 201: answer[200] },
      },
    },
    async (request, reply) => {
      const key = asked(keyHeader, request.headers)['idempotency-key'];
      checkChosen(request.body);
      const { token } = request;
      const sender = token === undefined ? undefined : { token, quota: context.settings.quota };
      const { job, fresh } = submit(context.data, asked(submission, request.body), key, sender);
      return reply.code(fresh ? 201 : 200).send(job);
    },
  );
  app.get(
    '/v1/jobs',
    {
      schema: {
        summary: 'List jobs',
        tags: ['jobs'],
        querystring: published(listQuery),
        response: { 200: published(listBody, 'output') },
      },
    },
    async (request) => {
      const { state, limit, before } = asked(listQuery, request.query);
      const page = jobs.list({
        limit: limit + 1,
        ...(state ? { states: state } : {}),
        ...(before ? { before } : {}),
      });
      const shown = page.slice(0, limit);
      return { jobs: shown, ...(page.length > limit ? { next: shown.at(-1)!.id } : {}) };
    },
  );
}

function oneJob(app: FastifyInstance, context: Context): void {
  const { jobs, folder } = context.data;
  const one = { tags: ['jobs'], params: published(jobParams) };
  app.get(
    '/v1/jobs/:id',
    { schema: { summary: 'How a job stands', ...one, response: answer } },
    async (request) => jobOf(context, request.params),
  );
  app.get(
    '/v1/jobs/:id/settings',
    { schema: { summary: 'The settings of a job, standard values filled in', ...one } },
    async (request) => jobs.settings(jobOf(context, request.params).id),
  );
  app.get(
    '/v1/jobs/:id/order',
    {
      schema: {
        summary: 'What was asked for, as a submission that asks for the same again',
        ...one,
        response: { 200: published(submission) },
      },
    },
    async (request) => askedAgain(context.data, jobOf(context, request.params).id),
  );
  app.post(
    '/v1/jobs/:id/cancel',
    { schema: { summary: 'Cancel a job', ...one, response: answer } },
    async (request) => {
      const { id } = jobOf(context, request.params);
      if (!jobs.cancel(id)) throw new Fault('job/ended', `job ${id} has ended already`);
      return jobOf(context, request.params);
    },
  );
  app.delete(
    '/v1/jobs/:id',
    { schema: { summary: 'Remove a job that has ended, with its result', ...one } },
    async (request, reply) => {
      const { id, state } = jobOf(context, request.params);
      const result = folder.result(id, jobs.attempt(id));
      if (!jobs.remove(id))
        throw new Fault('job/not-ended', `job ${id} is ${state}: cancel it first`);
      await rm(result, { recursive: true, force: true });
      return reply.code(204).send();
    },
  );
}
