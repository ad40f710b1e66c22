import type { TypeBoxTypeProvider } from '@fastify/type-provider-typebox';
import type { WebSocket } from '@fastify/websocket';
import type {
  FastifyBaseLogger,
  FastifyInstance,
  FastifyReply,
  FastifyRequest,
  RawReplyDefaultExpression,
  RawRequestDefaultExpression,
  RawServerDefault,
  RouteOptions,
} from 'fastify';
import { Type } from 'typebox';
import type { Access } from './access.ts';
import { type Caller, callerOf } from './caller.ts';
import { CONTRACT, type Contract, type RouteKey } from './contract/index.ts';
import { ProblemView } from './contract/problem.ts';
import { type Answered, type Checked, partsOf, type RouteSpec, successesOf } from './contract/route-table.ts';
import { input } from './contract/schema.ts';

export type Api = FastifyInstance<
  RawServerDefault,
  RawRequestDefaultExpression<RawServerDefault>,
  RawReplyDefaultExpression<RawServerDefault>,
  FastifyBaseLogger,
  TypeBoxTypeProvider
>;

/** A validated request with defaults filled in, and its caller. */
interface ApiRequest<S> extends Checked<S>, Caller {
  readonly headers: FastifyRequest['headers'];
  readonly ip: string;
  readonly protocol: FastifyRequest['protocol'];
  /** What the caller may do; null = the route needs no right. */
  readonly access: S extends { readonly right: 'none' } ? null : Access;
}

type Handler<S extends RouteSpec> = (request: ApiRequest<S>, reply: FastifyReply) => Answered<S> | Promise<Answered<S>>;

/** Some JSON clients always send a body; anything in it is refused, because it would be ignored. */
const NO_BODY = Type.Union([input({}), Type.Null()]);

/**
 * Serves a route of the contract, which defines its input, output, status and number of digits.
 * @param socket called for each WebSocket, if the route is one too
 */
export function serve<K extends RouteKey>(
  api: Api,
  key: K,
  handler: Handler<Contract[K]>,
  socket?: (socket: WebSocket, access: Access | null) => void,
): void {
  const spec: RouteSpec = CONTRACT[key];
  const { method, path } = partsOf(key);
  const [{ status }] = successesOf(spec);
  api.route({
    method,
    url: path,
    ...(spec.bodyBytesMax === undefined ? {} : { bodyLimit: spec.bodyBytesMax }),
    ...(socket === undefined
      ? {}
      : {
          wsHandler: (opened: WebSocket, request: FastifyRequest) => socket(opened, request.access),
        }),
    schema: schemasOf(spec, method),
    handler: async (request, reply) => {
      const { params, query, headers, ip, protocol, access } = request;
      const caller = callerOf(request, access);
      const checked = { ...caller, params, query, headers, ip, protocol, access, body: request.body ?? null };
      reply.code(status);
      const answer = await handler(checked as ApiRequest<Contract[K]>, reply);
      return status === 204 ? reply.send() : answer;
    },
  } as RouteOptions);
}

function schemasOf(spec: RouteSpec, method: string) {
  const body = spec.consumes !== undefined || method === 'GET' ? undefined : (spec.body ?? NO_BODY);
  return {
    ...(spec.params === undefined ? {} : { params: spec.params }),
    ...(spec.query === undefined ? {} : { querystring: spec.query }),
    ...(body === undefined ? {} : { body }),
    response: {
      ...Object.fromEntries(
        successesOf(spec).flatMap(({ status, schema }) => (schema === null ? [] : [[status, schema]])),
      ),
      default: ProblemView,
    },
  };
}

declare module 'fastify' {
  interface FastifyRequest {
    /** Set before the handler runs; null = the route needs no right. */
    access: Access | null;
  }
}

/**
 * What a route needs. An address that does not exist says so to whoever may watch.
 * @param path of the route that matched, not the raw address: /%61pi/state matches /api/state
 */
export function rightOf(method: string, path: string): RouteSpec['right'] {
  // A HEAD request is answered by the route for GET.
  const spec = (CONTRACT as Record<string, RouteSpec>)[`${method === 'HEAD' ? 'GET' : method} ${path}`];
  return spec?.right ?? 'watch';
}
