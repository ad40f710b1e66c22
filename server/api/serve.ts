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
import { type Caller, callerOf } from './caller.ts';
import { CONTRACT, type Contract, type RouteKey } from './contract/index.ts';
import { ProblemView } from './contract/problem.ts';
import { type Answered, type Checked, partsOf, type RouteSpec, successOf } from './contract/route-table.ts';
import { input, text } from './contract/schema.ts';

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
}

type Handler<S extends RouteSpec> = (request: ApiRequest<S>, reply: FastifyReply) => Answered<S> | Promise<Answered<S>>;

/** Some JSON clients always send a body; anything in it is refused, because it would be ignored. */
const NO_BODY = Type.Union([input({}), Type.Null()]);
const Ticket = { ticket: Type.Optional(text()) };

/**
 * Serves a route of the contract, which defines its input, output, status and number of digits.
 * @param socket called for each WebSocket, if the route is one too
 */
export function serve<K extends RouteKey>(
  api: Api,
  key: K,
  handler: Handler<Contract[K]>,
  socket?: (socket: WebSocket) => void,
): void {
  const spec: RouteSpec = CONTRACT[key];
  const { method, path } = partsOf(key);
  const { status } = successOf(spec);
  api.route({
    method,
    url: path,
    ...(spec.bodyBytesMax === undefined ? {} : { bodyLimit: spec.bodyBytesMax }),
    ...(socket === undefined ? {} : { wsHandler: (opened: WebSocket) => socket(opened) }),
    schema: schemasOf(spec, method),
    handler: async (request, reply) => {
      const { params, query, headers } = request;
      const checked = { ...callerOf(request), params, query, headers, body: request.body ?? null };
      reply.code(status);
      const answer = await handler(checked as ApiRequest<Contract[K]>, reply);
      return status === 204 ? reply.send() : answer;
    },
  } as RouteOptions);
}

function schemasOf(spec: RouteSpec, method: string) {
  const { status, schema } = successOf(spec);
  const query =
    spec.query === undefined || spec.ticket === undefined ? spec.query : input({ ...spec.query.properties, ...Ticket });
  const body = spec.consumes !== undefined || method === 'GET' ? undefined : (spec.body ?? NO_BODY);
  return {
    ...(spec.params === undefined ? {} : { params: spec.params }),
    ...(query === undefined ? {} : { querystring: query }),
    ...(body === undefined ? {} : { body }),
    response: { ...(schema === null ? {} : { [status]: schema }), default: ProblemView },
  };
}

/** Routes that need no access key, and those that also accept a ticket: `GET /live`. */
export const KEYLESS_ROUTES: ReadonlySet<string> = routesWith((spec) => spec.keyless === true);
export const TICKET_ROUTES: ReadonlySet<string> = routesWith((spec) => spec.ticket === true);

function routesWith(wanted: (spec: RouteSpec) => boolean): ReadonlySet<string> {
  return new Set(
    Object.entries(CONTRACT)
      .filter(([, spec]: [string, RouteSpec]) => wanted(spec))
      .map(([key]) => key),
  );
}
