/** The guide, as the build has rendered it. It reveals nothing of jobs, so everybody may read it. */
import { readFileSync, readdirSync } from 'node:fs';
import type { FastifyInstance } from 'fastify';
import { packaged } from '../../built.js';

const TYPES = { html: 'text/html; charset=utf-8', css: 'text/css; charset=utf-8' } as const;

export function guideRoutes(app: FastifyInstance): void {
  const folder = packaged('dist/guide/');
  for (const file of readdirSync(folder)) {
    const [topic, kind] = file.split('.') as [string, string];
    if (kind !== 'html' && kind !== 'css') continue;
    const text = readFileSync(new URL(file, folder), 'utf8');
    const path =
      kind === 'css' ? `/guide/${file}` : topic === 'index' ? '/guide' : `/guide/${topic}`;
    app.get(path, { config: { open: true }, schema: { hide: true } }, async (_request, reply) =>
      reply.type(TYPES[kind]).header('cache-control', 'no-cache').send(text),
    );
  }
}
