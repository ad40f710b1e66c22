import { Agent, request as httpRequest } from 'node:http';
import { Ajv2020, type ValidateFunction } from 'ajv/dist/2020.js';
import { CONTRACT } from '../../server/api/contract/index.ts';
import { openApiDocument } from '../../server/api/open-api.ts';
import { LineSettings } from '../../server/settings/line-settings.ts';
import type { Chooser } from './chooser.ts';
import { type FedService, startFedService, woundLine } from './fed-service.ts';
import type { FuzzTarget } from './fuzz.ts';
import { mutated } from './line-mutation.ts';
import { type Components, type JsonSchema, madeValue } from './schema-values.ts';

interface Request {
  /** Method and path as the document has them, if it has the operation. */
  readonly operation: string;
  readonly method: string;
  readonly path: string;
  readonly headers: Readonly<Record<string, string>>;
  readonly body: string | null;
}

interface HttpInput {
  /** What the board prints before. */
  readonly printed: string;
  readonly requests: readonly Request[];
}

interface Operation {
  readonly key: string;
  readonly method: string;
  readonly path: string;
  readonly parameters: readonly { readonly name: string; readonly in: string; readonly schema: JsonSchema }[];
  readonly body: JsonSchema | null;
  readonly takesFile: boolean;
  /** Status of success, its media types, and the check of what is JSON. */
  readonly status: number;
  readonly types: readonly string[];
  /** Compiled when first asked for: compiling all takes seconds. */
  readonly check: () => ValidateFunction | null;
}

const REQUESTS_MAX = 12;
/** A new record from time to time: requests delete much of it. */
const ATTEMPTS_EACH = 300;
/** A defect has a code of its own; these say that something outside failed. */
const FAILING_OUTSIDE = new Set(['channel-failed', 'not-ready']);
const ANSWER_WITHIN_MS = 20_000;

/** Every operation of the OpenAPI document, against the whole service while its board prints damaged lines. */
export const httpTarget: FuzzTarget<HttpInput> = {
  name: 'http',
  unit: 'requests',
  casesInTest: 3,
  async open() {
    const { operations, components, problem } = operationsOf();
    const agent = new Agent({ keepAlive: true });
    let service = await startFedService();
    let attempts = 0;
    let printed = 3000;
    const attempt = async (input: HttpInput) => {
      if (attempts++ >= ATTEMPTS_EACH) {
        await service.stop();
        service = await startFedService();
        attempts = 0;
      }
      service.feed(input.printed);
      for (const request of input.requests) {
        const operation = operations.find(({ key }) => key === request.operation) ?? null;
        await send(service, agent, request).then((answer) => checkAnswer(answer, request, operation, problem));
      }
      return input.requests.length;
    };
    return {
      make: (choose) => {
        const lines = Array.from({ length: choose.below(10) }, () => woundLine(printed++));
        const text = lines.map((line) =>
          choose.chance(0.3) ? mutated(line, choose, woundLine(choose.below(3000))) : line,
        );
        const requests = Array.from({ length: 1 + choose.below(REQUESTS_MAX) }, () =>
          makeRequest(choose, oneOfOperations(choose, operations), components),
        );
        return { printed: text.map((line) => `${line}\n`).join(''), requests };
      },
      attempt,
      close: async () => {
        agent.destroy();
        await service.stop();
      },
    };
  },
};

// biome-ignore lint/suspicious/noExplicitAny: the document is JSON
type Json = any;

function operationsOf() {
  const document: Json = openApiDocument(CONTRACT);
  const ajv = new Ajv2020({ strict: false, validateFormats: false, code: { optimize: false } });
  ajv.addSchema(document, 'document');
  const checkOf = (pointer: string) => ajv.compile({ $ref: `document#${pointer}` });
  const components: Components = document.components.schemas;
  const escaped = (part: string) => part.replaceAll('~', '~0').replaceAll('/', '~1');
  const operations = Object.entries(document.paths).flatMap(([path, methods]) =>
    Object.entries(methods as Record<string, Json>).map(([method, spec]): Operation => {
      const [[status, success]] = Object.entries(spec.responses) as [[string, Json]];
      const types = Object.keys(success.content ?? {});
      const body: Json = spec.requestBody?.content?.['application/json']?.schema ?? null;
      const content = `/paths/${escaped(path)}/${method}/responses/${status}/content`;
      return {
        key: `${method.toUpperCase()} ${path}`,
        method: method.toUpperCase(),
        path,
        parameters: spec.parameters ?? [],
        // Checked by the settings room, so the document leaves it open.
        body: spec.operationId === 'changeSettings' ? (LineSettings as JsonSchema) : body,
        takesFile: spec.requestBody !== undefined && body === null,
        status: Number(status),
        types,
        check: once(() => (types.includes('application/json') ? checkOf(`${content}/application~1json/schema`) : null)),
      };
    }),
  );
  return { operations, components, problem: checkOf('/components/schemas/Problem') };
}

function once<T>(make: () => T): () => T {
  let made: { readonly value: T } | null = null;
  return () => {
    made ??= { value: make() };
    return made.value;
  };
}

/** These read or write the whole record: a tenth as often as the others. */
const HEAVY = /\/record\/|archive|export|\/channels\/test/;

function oneOfOperations(choose: Chooser, operations: readonly Operation[]): Operation {
  const operation = choose.oneOf(operations);
  return HEAVY.test(operation.path) && choose.chance(0.9) ? oneOfOperations(choose, operations) : operation;
}

function makeRequest(choose: Chooser, operation: Operation, components: Components): Request {
  const wild = choose.oneOf([0, 0, 0.05, 0.3]);
  const values = operation.parameters.map(({ name, schema, in: where }) => ({
    name,
    where,
    text: asText(madeValue(schema, choose, components, wild, name)),
  }));
  let path = operation.path.replace(/\{(\w+)\}/g, (_, name) => {
    const text = values.find((value) => value.name === name)?.text ?? '';
    return choose.chance(wild / 4) ? choose.oneOf(['%zz', '..', '%2e%2e%2f', '%00', '']) : encoded(text);
  });
  const query = values.filter(({ where }) => where === 'query' && choose.chance(0.7));
  if (choose.chance(wild / 4)) query.push({ name: choose.oneOf(['x', '__proto__', 'id']), where: 'query', text: '1' });
  if (query.length > 0) path += `?${query.map(({ name, text }) => `${name}=${encoded(text)}`).join('&')}`;
  const method = choose.chance(wild / 10)
    ? choose.oneOf(['PATCH', 'DELETE', 'PUT', 'POST', 'OPTIONS'])
    : operation.method;
  const made = bodyOf(choose, operation, components, wild);
  const headers: Record<string, string> = {};
  if (made !== null)
    headers['content-type'] = choose.chance(wild / 4) ? choose.oneOf(['text/html', 'x', '']) : 'application/json';
  if (choose.chance(0.1)) headers['strandward-by'] = choose.oneOf(['Ada', '%', '%E2%82', '', 'x'.repeat(300), '%00']);
  if (choose.chance(0.02)) headers.accept = choose.oneOf(['text/html', 'application/vnd.strandward.window', '*/*;q=x']);
  return { operation: `${method} ${operation.path}`, method, path, headers, body: made };
}

function bodyOf(choose: Chooser, operation: Operation, components: Components, wild: number): string | null {
  if (operation.method === 'GET') return null;
  if (operation.takesFile) return choose.oneOf([null, '', '{}']);
  if (operation.body === null) return choose.chance(wild) ? choose.oneOf(['{}', '[]', 'null', '1', '{']) : null;
  const text = JSON.stringify(madeValue(operation.body, choose, components, wild)) ?? 'null';
  return choose.chance(wild / 4) ? text.slice(0, choose.below(text.length)) : text;
}

/** Percent-encoded UTF-8; a lone half of a surrogate pair cannot be encoded and is replaced. */
const encoded = (text: string) => encodeURIComponent(Buffer.from(text).toString());

function asText(value: unknown): string {
  return typeof value === 'object' ? (Array.isArray(value) ? value.join(',') : JSON.stringify(value)) : String(value);
}

interface Answer {
  readonly status: number;
  readonly type: string;
  readonly text: string;
}

function send(service: FedService, agent: Agent, { method, path, headers, body }: Request): Promise<Answer> {
  return new Promise((resolve, reject) => {
    const length = body === null ? {} : { 'content-length': String(Buffer.byteLength(body)) };
    const url = new URL(service.address);
    const options = { agent, host: url.hostname, port: url.port, method, path, headers: { ...headers, ...length } };
    const request = httpRequest(options, (reply) => {
      const chunks: Buffer[] = [];
      reply.on('data', (chunk: Buffer) => chunks.push(chunk));
      reply.once('error', reject);
      reply.once('end', () =>
        resolve({
          status: reply.statusCode ?? 0,
          type: reply.headers['content-type'] ?? '',
          text: Buffer.concat(chunks).toString(),
        }),
      );
    });
    request.setTimeout(ANSWER_WITHIN_MS, () => request.destroy(new Error(`No answer within ${ANSWER_WITHIN_MS} ms`)));
    request.once('error', (error) => reject(new Error(`${method} ${path.slice(0, 200)}: ${error.message}`)));
    request.end(body ?? undefined);
  });
}

function checkAnswer(answer: Answer, request: Request, operation: Operation | null, problem: ValidateFunction): void {
  const fail = (what: string): never => {
    const { method, path, body } = request;
    throw new Error(
      `${method} ${path.slice(0, 300)} ${body?.slice(0, 600) ?? ''}\n→ ${answer.status} ${answer.type} ${answer.text.slice(0, 600)}\n${what}`,
    );
  };
  if (answer.status >= 400) {
    if (!answer.type.startsWith('application/problem+json')) fail('It is no problem+json.');
    const body: Json = JSON.parse(answer.text);
    if (!problem(body)) fail(`The problem is not as documented: ${JSON.stringify(problem.errors?.slice(0, 3))}`);
    if (body.status !== answer.status) fail('The problem states another status.');
    if (answer.status >= 500 && !FAILING_OUTSIDE.has(body.code)) fail('It is a defect of the service.');
    return;
  }
  if (operation === null) {
    fail('The document has no such operation.');
    return;
  }
  if (answer.status !== operation.status) fail(`The document states ${operation.status}.`);
  const [type = ''] = answer.type.split(';');
  if (answer.status !== 204 && !operation.types.includes(type))
    fail(`The document states ${operation.types.join(', ')}.`);
  const check = type === 'application/json' ? operation.check() : null;
  if (check !== null && !check(JSON.parse(answer.text)))
    fail(`The answer is not as documented: ${JSON.stringify(check.errors?.slice(0, 3))}`);
}
