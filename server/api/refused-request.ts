import { type IncomingMessage, type ServerResponse, STATUS_CODES } from 'node:http';
import type { Duplex } from 'node:stream';
import type { FastifyError, FastifyReply, FastifyRequest } from 'fastify';
import { Problem } from '../problem/problem.ts';
import { CONTRACT } from './contract/index.ts';
import type { ProblemView } from './contract/problem.ts';
import { partsOf, type RouteSpec } from './contract/route-table.ts';
import { REFUSAL_HEADERS } from './isolation.ts';

const SEE_DOCUMENT = 'See /openapi.json for what this address takes.';
const SEE_ADDRESSES = 'See /openapi.json for all addresses.';
const JSON_TYPE = 'application/json';

/** By the web server's code. Its own messages name programs of ours, not what the sender did. */
const REFUSALS: Readonly<Record<string, readonly [what: string, remedy: string]>> = {
  FST_ERR_CTP_EMPTY_JSON_BODY: ['The body is empty.', SEE_DOCUMENT],
  FST_ERR_CTP_INVALID_JSON_BODY: ['The body is not valid JSON.', 'Check its quotes, commas and brackets.'],
  FST_ERR_CTP_INVALID_CONTENT_LENGTH: ['The body is not as long as its Content-Length says.', 'Send it again.'],
  FST_ERR_BAD_URL: ['The address cannot be decoded.', 'Percent-encode it as UTF-8.'],
};

/** The problem of a status below 500 that the web server itself found. */
export function refusedByServer({ statusCode = 400, code, message }: FastifyError, request: FastifyRequest): Problem {
  switch (statusCode) {
    // A path that leads out of the folder of the page.
    case 403:
    case 404:
      return nothingAt(request);
    case 413: {
      const mostKb = Math.floor(request.routeOptions.bodyLimit / 1000);
      return new Problem('bad-request', 'The body is too large.', `Send at most ${mostKb} kB to this address.`);
    }
    case 415:
      return wrongType(request);
    case 429:
      return new Problem('too-many-requests', message, 'Wait a moment, then ask again.');
    default: {
      const [what, remedy] = REFUSALS[code] ?? [message, SEE_DOCUMENT];
      return new Problem('bad-request', what, remedy);
    }
  }
}

/** @throws Problem `wrong-type`: the body is neither JSON nor what the route takes */
export function requireKnownType(request: FastifyRequest): void {
  const spec = specOf(request);
  if (spec !== null && spec.consumes === undefined && typeOf(request) !== JSON_TYPE) throw wrongType(request);
}

/** What a body may be encoded as, for the header Accept-Encoding (RFC 9110, 12.5.3). */
export const BODY_ENCODING = 'identity';

export function isEncoded({ headers }: Pick<FastifyRequest, 'headers'>): boolean {
  return (headers['content-encoding'] ?? BODY_ENCODING).toLowerCase() !== BODY_ENCODING;
}

/** @throws Problem `wrong-type`: the body is compressed */
export function requirePlain(request: FastifyRequest): void {
  if (!isEncoded(request)) return;
  const what = `A body with the Content-Encoding “${request.headers['content-encoding']}” is not taken.`;
  throw new Problem('wrong-type', what, 'Send it as it is, without this header.');
}

function wrongType(request: FastifyRequest): Problem {
  const type = typeOf(request);
  const what =
    type === '' ? 'The body has no content type.' : `This address does not accept a body of the type “${type}”.`;
  return new Problem('wrong-type', what, `Send it as ${(specOf(request)?.consumes ?? [JSON_TYPE]).join(' or ')}.`);
}

function specOf({ method, routeOptions }: FastifyRequest): RouteSpec | null {
  return (CONTRACT as Record<string, RouteSpec>)[`${method} ${routeOptions.url ?? ''}`] ?? null;
}

const typeOf = ({ headers }: FastifyRequest) => (headers['content-type'] ?? '').split(';')[0]!.trim().toLowerCase();

/** Nothing is at the address of a request, or nothing for its method. */
export function nothingAt({ method, url }: Pick<FastifyRequest, 'method' | 'url'>): Problem {
  const path = url.split('?')[0] ?? '';
  const methods = methodsAt(path);
  if (methods.length === 0) return new Problem('not-found', `There is nothing at ${method} ${path}.`, SEE_ADDRESSES);
  return new Problem('wrong-method', `${path} does not take ${method}.`, `It takes ${methods.join(', ')}.`);
}

/** The methods of the routes that match a path; RFC 9110, 15.5.6: a refused method is answered with them. */
export function methodsAt(path: string): readonly string[] {
  return Object.keys(CONTRACT)
    .map(partsOf)
    .filter((route) => new RegExp(`^${route.path.replaceAll(/:\w+/g, '[^/]+')}$`).test(path))
    .flatMap(({ method }) => (method === 'GET' ? ['GET', 'HEAD'] : [method]));
}

/** RFC 9112, 3.2. Node itself answers without a body, and takes the first of several. @throws Problem `bad-request` */
export function requireHost({ headers, raw }: FastifyRequest, reply: FastifyReply): void {
  const isRepeated = (raw.headersDistinct.host?.length ?? 0) > 1;
  if (!isRepeated && (headers.host !== undefined || raw.httpVersion === '1.0')) return;
  reply.header('connection', 'close');
  if (isRepeated) throw new Problem('bad-request', 'The request names several hosts.', 'Send the header Host once.');
  throw new Problem('bad-request', 'The request names no host.', 'Send the header Host, as in RFC 9112, section 3.2.');
}

/** For an `Expect` other than `100-continue` (RFC 9110, 10.1.1). */
export function refuseExpectation({ socket }: IncomingMessage, response: ServerResponse): void {
  response.detachSocket(socket);
  socket.end(rawReply(417, 'The header Expect asks for something unknown.', 'Leave it out, or send “100-continue”.'));
}

/** For a request that is not HTTP, so that no route and no reply exists. The connection is closed. */
export function refuseConnection(error: NodeJS.ErrnoException, socket: Duplex): void {
  if (error.code !== 'ECONNRESET' && socket.writable) socket.write(connectionRefusal(error.code ?? ''));
  socket.destroy(error);
}

/** For a WebSocket that cannot be opened. */
export function refuseWebSocket(_error: Error, socket: Duplex): void {
  const what = 'This is no request for a WebSocket of version 13.';
  socket.end(rawReply(400, what, 'Use a WebSocket client.', 'sec-websocket-version: 13\r\n'));
}

function connectionRefusal(code: string): string {
  if (code === 'HPE_HEADER_OVERFLOW') return rawReply(431, 'The headers are too large.', 'Send at most 16 kB of them.');
  if (code === 'ERR_HTTP_REQUEST_TIMEOUT')
    return rawReply(408, 'The request did not arrive in time.', 'Send it again.');
  return rawReply(400, 'This is not a request that HTTP allows.', 'Send HTTP/1.1 as in RFC 9112.');
}

function rawReply(status: number, title: string, detail: string, headers = ''): string {
  const type = 'urn:strandward:problem:bad-request';
  const body = JSON.stringify({
    type,
    title,
    status,
    detail,
    code: 'bad-request',
    pointer: null,
  } satisfies ProblemView);
  const isolation = Object.entries(REFUSAL_HEADERS).map(([name, value]) => `${name}: ${value}\r\n`);
  return `HTTP/1.1 ${status} ${STATUS_CODES[status]}\r\n${headers}${isolation.join('')}content-type: application/problem+json; charset=utf-8\r
content-length: ${Buffer.byteLength(body)}\r\nconnection: close\r\n\r\n${body}`;
}
