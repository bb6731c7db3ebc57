/** The HTTP face of the service: a framework with its guards, and the routes. */
import type { ServerResponse } from 'node:http';
import helmet from '@fastify/helmet';
import swagger from '@fastify/swagger';
import Fastify, { type FastifyError, type FastifyInstance } from 'fastify';
import { Fault } from '../../lib/index.js';
import { LONGEST_MESSAGE, printable } from '../../lib/base/printable.js';
import { version } from '../version.js';
import { type Context, published } from './context.js';
import { guardEntry } from './entry.js';
import { bareAnswer, faultBody, frameworkFault, protocolFault, sendFault } from './faults.js';
import { withoutPaths } from '../runner/paths.js';
import { pageRoutes } from './page/page.js';
import { aboutRoutes } from './routes/about.js';
import { eventRoutes } from './routes/events.js';
import { fileRoutes } from './routes/files.js';
import { guideRoutes } from './routes/guide.js';
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
    // Counted by `guardEntry`, so that the refusal has our shape.
    http: { requireHostHeader: false },
    ...(context.settings.proxy === undefined ? {} : { trustProxy: context.settings.proxy }),
    frameworkErrors: (error, _request, reply) => {
      const fault = frameworkFault(error) ?? new Fault('request/malformed', error.message);
      void sendFault(reply, fault.toData());
    },
    clientErrorHandler: (error, socket) => {
      if (socket.writable && (error as { code?: string }).code !== 'ECONNRESET')
        socket.write(bareAnswer(protocolFault(error as { code?: string })));
      socket.destroy(error);
    },
  });
  app.server.on('checkExpectation', (_request, response: ServerResponse) => {
    const fault = new Fault('request/expectation', 'the service meets no expectation of a client');
    const body = JSON.stringify({ error: fault.toData() });
    response.writeHead(417, {
      'content-type': 'application/json; charset=utf-8',
      'content-length': Buffer.byteLength(body),
    });
    response.end(body);
  });
  app.server.maxConnections = MOST_CONNECTIONS;
  // Schemas describe; `asked` checks, so that a refusal is a Fault like every other.
  app.setValidatorCompiler(() => () => true);
  app.setSerializerCompiler(() => (value) => JSON.stringify(value));
  // A part's bytes stay a stream; what is not JSON has no other body.
  app.addContentTypeParser('*', (_request, _payload, done) => done(null));
  app.removeContentTypeParser('text/plain');
  answerFaults(app, context);
  await app.register(helmet, {
    contentSecurityPolicy: { useDefaults: false, directives: POLICY },
    strictTransportSecurity: false,
  });
  await app.register(swagger, {
    openapi: { openapi: '3.1.0', info: { title: 'tiltwright', version } },
  });
  const refusal = published(faultBody, 'output');
  app.addHook('onRoute', ({ schema }) => {
    if (schema && !schema.hide)
      schema.response = { ...(schema.response ?? { '2xx': {} }), default: refusal };
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
  guideRoutes(app);
  return app;
}

/** A fault is answered as it is; anything else is a defect of ours, which only the log explains. */
function answerFaults(app: FastifyInstance, context: Context): void {
  app.setErrorHandler((error: FastifyError | Fault, request, reply) => {
    const fault = error instanceof Fault ? error : frameworkFault(error);
    if (fault) return sendFault(reply, withoutPaths(fault.toData(), context.data.folder.path));
    const lines = `${request.method} ${request.url}: ${error.stack}`.split('\n');
    process.stderr.write(lines.map((line) => `${printable(line, LONGEST_MESSAGE)}\n`).join(''));
    const message = 'a defect of the program; the log of the service has more';
    return reply.code(500).send({ error: { code: 'service/defect', message } });
  });
  app.setNotFoundHandler((_request, reply) =>
    sendFault(reply, { code: 'route/unknown', message: 'there is nothing at this address' }),
  );
}
