/** The HTTP face of the service: a framework with its guards, and the routes. */
import helmet from '@fastify/helmet';
import swagger from '@fastify/swagger';
import Fastify, { type FastifyError, type FastifyInstance } from 'fastify';
import { Fault } from '../../lib/base/fault.js';
import { version } from '../version.js';
import type { Context } from './context.js';
import { guardEntry } from './entry.js';
import { frameworkFault, sendFault } from './faults.js';
import { pageRoutes } from './page/page.js';
import { aboutRoutes } from './routes/about.js';
import { eventRoutes } from './routes/events.js';
import { fileRoutes } from './routes/files.js';
import { jobRoutes } from './routes/jobs.js';
import { libraryRoutes } from './routes/library.js';
import { partRoutes } from './routes/parts.js';
import { sessionRoutes } from './routes/session.js';

/** Bodies of JSON; parts and machines have limits of their own. */
const JSON_BYTES = 1_000_000;
/** A slow line may take this long for an upload. */
const REQUEST_MS = 30 * 60_000;
const MOST_CONNECTIONS = 500;

const POLICY = {
  defaultSrc: ["'none'"],
  scriptSrc: ["'self'"],
  styleSrc: ["'self'"],
  imgSrc: ["'self'"],
  connectSrc: ["'self'"],
  formAction: ["'self'"],
  frameAncestors: ["'none'"],
  baseUri: ["'none'"],
  upgradeInsecureRequests: null,
};

export async function buildServer(context: Context): Promise<FastifyInstance> {
  const app = Fastify({
    bodyLimit: JSON_BYTES,
    requestTimeout: REQUEST_MS,
    forceCloseConnections: true,
    routerOptions: { maxParamLength: 200 },
  });
  app.server.maxConnections = MOST_CONNECTIONS;
  // Schemas describe; `asked` checks, so that a refusal is a Fault like every other.
  app.setValidatorCompiler(() => () => true);
  app.setSerializerCompiler(() => (value) => JSON.stringify(value));
  // A part's bytes stay a stream; what is not JSON has no other body.
  app.addContentTypeParser('*', (_request, _payload, done) => done(null));
  app.removeContentTypeParser('text/plain');
  app.setErrorHandler((error: FastifyError | Fault, request, reply) => {
    const fault = error instanceof Fault ? error : frameworkFault(error);
    if (fault) return sendFault(reply, fault.toData());
    process.stderr.write(`${request.method} ${request.url}: ${error.stack}\n`);
    return reply.code(500).send({ error: { code: 'service/defect', message: error.message } });
  });
  app.setNotFoundHandler((_request, reply) =>
    sendFault(reply, { code: 'route/unknown', message: 'there is nothing at this address' }),
  );
  await app.register(helmet, {
    contentSecurityPolicy: { useDefaults: false, directives: POLICY },
    strictTransportSecurity: false,
  });
  await app.register(swagger, {
    openapi: { openapi: '3.1.0', info: { title: 'tiltwright', version } },
  });
  await guardEntry(app, context);
  app.addHook('onResponse', async (request, reply) => {
    const { method } = request;
    const route = request.routeOptions.url ?? 'unknown';
    context.metrics.requests.observe(
      { method, route, status: reply.statusCode },
      reply.elapsedTime / 1000,
    );
  });
  for (const routes of [
    aboutRoutes,
    sessionRoutes,
    partRoutes,
    libraryRoutes,
    jobRoutes,
    fileRoutes,
    eventRoutes,
  ])
    routes(app, context);
  pageRoutes(app);
  return app;
}
