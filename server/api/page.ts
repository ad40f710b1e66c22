import { existsSync } from 'node:fs';
import { readFile } from 'node:fs/promises';
import { join } from 'node:path';
import fastifyStatic from '@fastify/static';
import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { Problem } from '../problem/problem.ts';
import { LiveState } from './contract/live-state.ts';
import { isPagePath } from './contract/page-paths.ts';
import { writeOnDemand } from './schemas-on-demand.ts';

interface PageOptions {
  /** The built page. */
  readonly folder: string;
  /** The state that the page shows before it has asked for any; null = the caller may not see it. */
  state(request: FastifyRequest): LiveState | null;
}

/** Serves the page and its files. The page brings the live state along, so that its first picture is not an empty frame. */
export async function servePage(api: FastifyInstance, { folder, state }: PageOptions): Promise<void> {
  const file = join(folder, 'index.html');
  const built = existsSync(file);
  // Read each time: an update may replace it while the service runs.
  const page = async (request: FastifyRequest, reply: FastifyReply) =>
    reply.type('text/html; charset=utf-8').send(withState(await readFile(file, 'utf8'), state(request)));
  if (built) {
    api.get('/', page);
    await api.register(fastifyStatic, {
      root: folder,
      index: false,
      preCompressed: true,
      cacheControl: false,
      // The names of built files contain a digest of their content; the others have none.
      setHeaders: (reply, path) =>
        reply.setHeader(
          'cache-control',
          path.includes('/assets/') ? 'public, max-age=31536000, immutable' : 'no-cache',
        ),
    });
  }
  api.setNotFoundHandler((request, reply) => {
    const path = request.url.split('?')[0] ?? '';
    if (built && request.method === 'GET' && isPagePath(path) && !/\.\w+$/.test(path)) return page(request, reply);
    throw new Problem(
      'not-found',
      `There is nothing at ${request.method} ${path}.`,
      'See /openapi.json for all addresses.',
    );
  });
}

const writeState = writeOnDemand(LiveState);

/** As data, not code: the page's policy forbids inline scripts. */
function withState(html: string, state: LiveState | null): string {
  if (state === null) return html;
  const json = writeState(state).replaceAll('<', '\\u003c');
  return html.replace('</head>', () => `<script type="application/json" id="state">${json}</script></head>`);
}
