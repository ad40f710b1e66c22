import { createHash } from 'node:crypto';
import { existsSync } from 'node:fs';
import { readFile } from 'node:fs/promises';
import { join } from 'node:path';
import fastifyStatic from '@fastify/static';
import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { headlineLength } from '../alarm/headline-length.ts';
import { routeOf } from '../entities/page-route.ts';
import { type ZoneClock, zoneClock } from '../entities/zone-clock.ts';
import { LiveState } from './contract/live-state.ts';
import { nothingAt } from './refused-request.ts';
import { writeOnDemand } from './schemas-on-demand.ts';

interface PageOptions {
  /** The built page. */
  readonly folder: string;
  /** The state that the page shows before it has asked for any; null = the caller may not see it. */
  state(request: FastifyRequest): LiveState | null;
  /** IANA name of the service's time zone. */
  readonly timeZone: string;
}

/** Of the clock that a page brings along: most runs are of the last years, and pages stay open. */
const CLOCK_BEFORE_MS = 3 * 366 * 86_400_000;
const CLOCK_AFTER_MS = 366 * 86_400_000;

/** Serves the page and its files. The page brings the live state along, so that its first picture is not an empty frame. */
export async function servePage(api: FastifyInstance, { folder, state, timeZone }: PageOptions): Promise<void> {
  const file = join(folder, 'index.html');
  const built = existsSync(file);
  let known: ZoneClock | null = null;
  const clock = () => {
    const nowMs = Date.now();
    if (known === null || known.untilMs < nowMs + CLOCK_AFTER_MS / 2)
      known = zoneClock(timeZone, nowMs - CLOCK_BEFORE_MS, nowMs + CLOCK_AFTER_MS);
    return known;
  };
  const page = async (request: FastifyRequest, reply: FastifyReply) => {
    const shown = state(request);
    // Read each time: an update may replace it while the service runs.
    const plain = await readFile(file, 'utf8');
    const html =
      shown === null ? plain : withFrame(withData(plain, shown, clock()), await frameOf(folder, request.url), shown);
    const style = /<style>(.*?)<\/style>/s.exec(plain)?.[1];
    if (style !== undefined) {
      const digest = createHash('sha256').update(style).digest('base64');
      const policy = reply.getHeader('content-security-policy');
      reply.header('content-security-policy', `${policy};style-src 'self' 'sha256-${digest}'`);
    }
    return reply.type('text/html; charset=utf-8').send(html);
  };
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
    if (built && /^(?:GET|HEAD)$/.test(request.method) && routeOf(path).page !== 'unknown' && !/\.\w+$/.test(path))
      return page(request, reply);
    throw nothingAt(request);
  });
}

const writeState = writeOnDemand(LiveState);

/** The frame of a page as built, with `{{…}}` for the headline, the files of its code, and what it asks the service for first. */
interface Frame {
  readonly html: string;
  readonly files: readonly string[];
  readonly asks: readonly string[];
}

async function frameOf(folder: string, url: string): Promise<Frame | null> {
  const file = join(folder, 'frames.json');
  if (!existsSync(file)) return null;
  const frames = JSON.parse(await readFile(file, 'utf8')) as Record<string, Frame>;
  const path = url.split('?')[0]!.replace(/\/+$/, '') || '/';
  const id = /\/(\d+)(?=[/?]|$)/;
  const frame = path.replace(id, '/0');
  if (!Object.hasOwn(frames, frame)) return null;
  const { asks, ...rest } = frames[frame]!;
  return { ...rest, asks: asks.map((address) => address.replace(id, `/${id.exec(path)?.[1]}`)) };
}

/** With the frame and headline for the first picture, and the code of the page and its first answers requested at once. */
function withFrame(html: string, frame: Frame | null, { severity, sentence }: LiveState): string {
  if (frame === null) return html;
  const headline: Record<string, string> = {
    severity,
    length: headlineLength(sentence),
    sentence: sentence.replaceAll('&', '&amp;').replaceAll('<', '&lt;'),
  };
  const picture = frame.html.replace(/{{(\w+)}}/g, (_, name: string) => headline[name] ?? '');
  const files = frame.files.map((path) =>
    path.endsWith('.css')
      ? `<link rel="preload" as="style" crossorigin href="${path}">`
      : `<link rel="modulepreload" fetchpriority="low" crossorigin href="${path}">`,
  );
  // Matches what the page's own fetch sends, else the browser would request it twice.
  const answers = frame.asks.map(
    (address) => `<link rel="preload" as="fetch" crossorigin href="${address.replaceAll('&', '&amp;')}">`,
  );
  const ahead = [...files, ...answers];
  return html
    .replace('</head>', () => `${ahead.join('')}</head>`)
    .replace('<div id="page">', () => `<div id="page">${picture}`);
}

/** As data, not code: the page's policy forbids inline scripts. */
function withData(html: string, state: LiveState, clock: ZoneClock): string {
  const data = { state: writeState(state), clock: JSON.stringify(clock) };
  const scripts = Object.entries(data).map(
    ([id, json]) => `<script type="application/json" id="${id}">${json.replaceAll('<', '\\u003c')}</script>`,
  );
  return html.replace('</body>', () => `${scripts.join('')}</body>`);
}
