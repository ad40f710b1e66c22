import type { ErrorObject } from 'ajv';
import type { FastifyError, FastifyReply, FastifyRequest } from 'fastify';
import { Problem, type ProblemCode } from '../problem/problem.ts';
import type { ProblemView } from './contract/problem.ts';
import { schemaRefusal } from './schema-refusal.ts';

/** Replies to every error with RFC 9457 problem details. */
export function replyWithProblem(error: unknown, request: FastifyRequest, reply: FastifyReply): void {
  const problem = asProblem(error as FastifyError | Problem);
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
  reply.code(status).type('application/problem+json').send(body);
}

export function hasBody({ headers }: Pick<FastifyRequest, 'headers'>): boolean {
  return headers['transfer-encoding'] !== undefined || Number(headers['content-length'] ?? 0) > 0;
}

/** Errors of the web server itself keep their status, such as 413 (body too large) and 415 (unknown type). */
function statusOf(error: FastifyError | Problem, problem: Problem): number {
  const own = error instanceof Problem ? undefined : error.statusCode;
  return own !== undefined && own >= 400 && own < 500 ? own : problem.httpStatus;
}

function asProblem(error: FastifyError | Problem): Problem {
  if (error instanceof Problem) return error;
  if (error.validation !== undefined && error.validation.length > 0) {
    return schemaRefusal(error.validation as readonly ErrorObject[], error.validationContext ?? 'request');
  }
  const status = error.statusCode ?? 500;
  if (status >= 400 && status < 500) {
    const code: ProblemCode = status === 404 ? 'not-found' : status === 429 ? 'too-many-requests' : 'bad-request';
    return new Problem(code, error.message, 'See /openapi.json for what this address takes.');
  }
  return new Problem(
    'server-fault',
    'The service has a defect.',
    'See its log for details, and report it. Readings are still recorded.',
    {
      cause: error,
    },
  );
}
