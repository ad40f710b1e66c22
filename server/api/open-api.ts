import type { TSchema } from 'typebox';
import { VERSION } from '../version.ts';
import { ProblemView } from './contract/problem.ts';
import { type Key, mayBeNull, partsOf, type RouteSpec, successesOf, TAGS } from './contract/route-table.ts';

type Json = Record<string, unknown>;

/** The OpenAPI 3.1 document of a table of routes. */
export function openApiDocument(table: Readonly<Record<Key, RouteSpec>>): Json {
  const components = new Components();
  const paths: Record<string, Json> = {};
  for (const [key, spec] of Object.entries(table)) {
    const { method, path } = partsOf(key);
    const address = path.replace(/:(\w+)/g, '{$1}');
    paths[address] = { ...paths[address], [method.toLowerCase()]: operation(spec, components) };
  }
  return {
    openapi: '3.1.0',
    info: {
      title: 'Strandward',
      version: VERSION,
      description:
        'Watches a filament extrusion line. Lengths are in mm, times in UTC ms and temperatures in °C, unless a name states otherwise. `x-digits` is the number of decimals that a number is rounded to. A caller may send its name in the header Strandward-By (percent-encoded UTF-8, at most 60 characters); the name is stored with the actions of the caller.',
      license: { name: 'MIT', identifier: 'MIT' },
      contact: { name: 'The contributors to Strandward' },
    },
    servers: [{ url: '/', description: 'The service that serves this document' }],
    tags: Object.entries(TAGS).map(([name, description]) => ({ name, description })),
    security: [{ token: [] }, { session: [] }],
    paths,
    components: {
      schemas: Object.fromEntries([...components.schemas].toSorted(([a], [b]) => (a < b ? -1 : 1))),
      securitySchemes: {
        token: {
          type: 'http',
          scheme: 'bearer',
          description:
            'The token of a program, from POST /api/tokens, or the access key that the service was started with. Without an access key, requests from the machine itself need neither.',
        },
        session: {
          type: 'apiKey',
          in: 'cookie',
          name: 'strandward8750',
          description:
            'The cookie of a paired device, from POST /api/devices. Its name ends with the port in the address of the page, and starts with __Host- over HTTPS.',
        },
      },
    },
  };
}

function operation(spec: RouteSpec, components: Components): Json {
  const parameters = [
    ...parametersIn('path', spec.params, components),
    ...parametersIn('query', spec.query, components),
  ];
  const types = spec.produces ?? ['application/json'];
  return {
    operationId: spec.operationId,
    tags: [spec.tag],
    summary: spec.summary,
    description: `${spec.description} ${spec.right === 'none' ? 'Needs no right.' : `Needs the right to ${spec.right}.`}`,
    'x-right': spec.right,
    ...(spec.right === 'none' ? { security: [] } : {}),
    ...(parameters.length > 0 ? { parameters } : {}),
    ...bodyOf(spec, components),
    responses: {
      ...Object.fromEntries(
        successesOf(spec).map(({ status, schema }) => [
          status,
          schema === null
            ? { description: 'Done' }
            : {
                description:
                  (schema as { description?: string }).description ?? (spec.produces ? 'The file' : 'Success'),
                content: Object.fromEntries(
                  types.map((type) => [type, { schema: schemaOf(type, schema, components) }]),
                ),
              },
        ]),
      ),
      default: {
        description: 'What went wrong, and what to do about it',
        content: { 'application/problem+json': { schema: components.refer(ProblemView) } },
      },
    },
  };
}

const FILE = { type: 'string', format: 'binary' };
const JSON_FILE = { type: 'array', items: { type: 'object' } };

/** A route may answer in several media types, and its schema describes either the JSON or the file. */
function schemaOf(type: string, schema: TSchema, components: Components): Json {
  const isFile = (schema as { format?: string }).format === FILE.format;
  if (type === 'application/json') return isFile ? JSON_FILE : components.refer(schema);
  return isFile ? components.refer(schema) : FILE;
}

function parametersIn(where: 'path' | 'query', schema: TSchema | undefined, components: Components): Json[] {
  const { properties = {}, required = [] } = (schema ?? {}) as {
    properties?: Record<string, TSchema>;
    required?: string[];
  };
  return Object.entries(properties).map(([name, property]) => {
    const { description, ...rest } = components.refer(property);
    return {
      name,
      in: where,
      required: required.includes(name) && !('default' in rest),
      ...(description === undefined ? {} : { description }),
      schema: rest,
    };
  });
}

function bodyOf({ body, consumes }: RouteSpec, components: Components): Json {
  if (consumes !== undefined) {
    const content = Object.fromEntries(consumes.map((type) => [type, { schema: FILE }]));
    return { requestBody: { required: true, content } };
  }
  if (body === undefined) return {};
  const content = { 'application/json': { schema: components.refer(body) } };
  return { requestBody: { required: !mayBeNull(body), content } };
}

/** Named schemas are included once and referenced. */
export class Components {
  readonly schemas = new Map<string, Json>();

  refer(schema: unknown): Json {
    return this.#described(schema) as Json;
  }

  #described(value: unknown): unknown {
    if (Array.isArray(value)) return value.map((one) => this.#described(one));
    if (typeof value !== 'object' || value === null) return value;
    const { $id, ...rest } = value as Json & { $id?: string };
    const described = Object.fromEntries(Object.entries(rest).map(([name, part]) => [name, this.#described(part)]));
    if ($id === undefined) return described;
    const known = this.schemas.get($id);
    if (known !== undefined && JSON.stringify(known) !== JSON.stringify(described)) {
      throw new TypeError(`Two different schemas are named ${$id}.`);
    }
    this.schemas.set($id, described);
    return { $ref: `#/components/schemas/${$id}` };
  }
}
