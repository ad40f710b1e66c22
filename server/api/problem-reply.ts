import type { ErrorObject } from 'ajv';
import type { FastifyError, FastifyReply, FastifyRequest } from 'fastify';
import { Problem } from '../problem/problem.ts';
import type { ProblemView } from './contract/problem.ts';
import { BODY_ENCODING, isEncoded, methodsAt, refusedByServer } from './refused-request.ts';
import { schemaRefusal } from './schema-refusal.ts';
import { TooManyRequests } from './too-many-requests.ts';

/** Replies to every error with RFC 9457 problem details. */
export function replyWithProblem(error: unknown, request: FastifyRequest, reply: FastifyReply): void {
  const problem = asProblem(error as FastifyError | Problem, request);
  const status = statusOf(error as FastifyError | Problem, problem);
  // Other faults have been logged where they were noticed, once. A probe of /ready may ask for one every few seconds.
  if (problem.code === 'server-fault') request.log.error({ err: error }, problem.message);
  const body: ProblemView = {
    type: `urn:strandward:problem:${problem.code}`,
    title: problem.message,
    status,
    detail: problem.remedy,
    code: problem.code,
    pointer: problem.pointer,
  };
  // What is left of a refused body would have to be read before the next request on this connection.
  if (hasBody(request) && !request.raw.complete) reply.header('connection', 'close');
  if (problem.code === 'wrong-method') reply.header('allow', methodsAt(request.url.split('?')[0] ?? '').join(', '));
  // RFC 9110, 15.5.16: so that the sender can tell it from a wrong type.
  if (problem.code === 'wrong-type' && isEncoded(request)) reply.header('accept-encoding', BODY_ENCODING);
  if (problem instanceof TooManyRequests) reply.header('retry-after', problem.retryAfterS);
  reply.code(status).type('application/problem+json').send(body);
}

export function hasBody({ headers }: Pick<FastifyRequest, 'headers'>): boolean {
  return headers['transfer-encoding'] !== undefined || Number(headers['content-length'] ?? 0) > 0;
}

/** Errors of the web server itself keep their status, such as 413 (body too large). */
function statusOf(error: FastifyError | Problem, problem: Problem): number {
  if (error instanceof Problem || problem.code !== 'bad-request') return problem.httpStatus;
  return error.statusCode ?? problem.httpStatus;
}

function asProblem(error: FastifyError | Problem, request: FastifyRequest): Problem {
  if (error instanceof Problem) return error;
  if (error.validation !== undefined && error.validation.length > 0) {
    return schemaRefusal(error.validation as readonly ErrorObject[], error.validationContext ?? 'request');
  }
  const status = error.statusCode ?? 500;
  if (status >= 400 && status < 500) return refusedByServer(error, request);
  return new Problem(
    'server-fault',
    'The service has a defect.',
    'See its log for details, and report it. Readings are still recorded.',
    {
      cause: error,
    },
  );
}
