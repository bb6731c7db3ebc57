/** The page as the service sends it: a fixed set of texts; its script is bundled by the build. */
import { readFileSync } from 'node:fs';
import type { FastifyInstance } from 'fastify';
import { built } from '../../built.js';
import { icon, markup } from './markup.js';
import { style } from './style.js';

export function pageRoutes(app: FastifyInstance): void {
  const script = readFileSync(built('../page/jobs.js'), 'utf8');
  const files = new Map<string, readonly [string, string]>([
    ['/', ['text/html; charset=utf-8', markup]],
    ['/page/page.css', ['text/css; charset=utf-8', style]],
    ['/page/icon.svg', ['image/svg+xml', icon]],
    ['/page/main.js', ['text/javascript; charset=utf-8', script]],
  ] as const);
  for (const [path, [type, text]] of files)
    app.get(path, { config: { open: true }, schema: { hide: true } }, async (_request, reply) =>
      reply.type(type).header('cache-control', 'no-cache').send(text),
    );
}
