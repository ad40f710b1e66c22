import type { Chooser } from './chooser.ts';

/** What the generator understands of JSON Schema. */
export interface JsonSchema {
  readonly $ref?: string;
  readonly type?: string | readonly string[];
  readonly enum?: readonly unknown[];
  readonly const?: unknown;
  readonly anyOf?: readonly JsonSchema[];
  readonly properties?: Readonly<Record<string, JsonSchema>>;
  readonly required?: readonly string[];
  readonly additionalProperties?: boolean | JsonSchema;
  readonly patternProperties?: Readonly<Record<string, JsonSchema>>;
  readonly items?: JsonSchema;
  readonly minItems?: number;
  readonly maxItems?: number;
  readonly minimum?: number;
  readonly maximum?: number;
  readonly exclusiveMinimum?: number;
  readonly exclusiveMaximum?: number;
  readonly minLength?: number;
  readonly maxLength?: number;
  readonly default?: unknown;
}

export type Components = Readonly<Record<string, JsonSchema>>;

const TEXTS = [
  ...[
    '',
    ' ',
    'a',
    'Ada',
    'PLA',
    'd',
    't1',
    '0',
    '1',
    '-1',
    'null',
    'true',
    '__proto__',
    'constructor',
    '../../etc/passwd',
  ],
  ...['<script>alert(1)</script>', "'; DROP TABLE run; --", '{{text}}', '{{', '%00', '\0', '\ud800', '😀'.repeat(20)],
  ...[
    '\u202eabc',
    'a'.repeat(61),
    'b'.repeat(5000),
    'Ärger',
    '\r\nX-A: b',
    '2026-03-14',
    '1,2',
    '1.75 mm',
    'NaN',
    '1e999',
  ],
];
const NUMBERS = [
  ...[0, -0, 1, -1, 0.1, 1.75, 2, 3, 50, 100, 1000, 1e5, 1e6, 1e9, 1e12, 1.7e12, 1e15, 1e18, 1e100, 1e308, 5e-324],
  ...[2 ** 31, 2 ** 32, 2 ** 53, -(2 ** 53), -1e308],
];
const ANYTHING: readonly unknown[] = [
  null,
  true,
  false,
  0,
  -1,
  1e308,
  '',
  'x',
  [],
  {},
  [null],
  [[]],
  { __proto__: null },
];
/** A channel must not reach beyond this machine, and nothing listens there. */
const NEAR: Readonly<Record<string, string>> = {
  url: 'http://127.0.0.1:9/hook',
  endpoint: 'http://127.0.0.1:9/push',
  host: '127.0.0.1',
  address: 'mqtt://127.0.0.1:9',
  pageAddress: 'http://127.0.0.1:9',
};

/** A value that the schema mostly accepts; `wild` is the share of parts that are chosen without regard to it. */
export function madeValue(
  schema: JsonSchema,
  choose: Chooser,
  components: Components,
  wild: number,
  name = '',
): unknown {
  if (choose.chance(wild)) return choose.oneOf<unknown>([...ANYTHING, ...TEXTS, ...NUMBERS]);
  if (schema.$ref !== undefined) {
    return madeValue(components[schema.$ref.split('/').at(-1) ?? ''] ?? {}, choose, components, wild, name);
  }
  if ('const' in schema) return schema.const;
  if (schema.enum !== undefined) return choose.oneOf(schema.enum);
  if (schema.anyOf !== undefined) return madeValue(choose.oneOf(schema.anyOf), choose, components, wild, name);
  switch (Array.isArray(schema.type) ? choose.oneOf(schema.type) : schema.type) {
    case 'null':
      return null;
    case 'boolean':
      return choose.chance(0.5);
    case 'integer':
      return Math.round(numberOf(schema, choose, name));
    case 'number':
      return numberOf(schema, choose, name);
    case 'string':
      return textOf(schema, choose, name);
    case 'array': {
      const { items = {}, minItems = 0, maxItems = 8 } = schema;
      const count = choose.chance(wild)
        ? choose.oneOf([0, 100, 2000])
        : minItems + choose.below(Math.min(8, maxItems - minItems) + 1);
      return Array.from({ length: count }, () => madeValue(items, choose, components, wild, name));
    }
    case 'object':
      return objectOf(schema, choose, components, wild);
    default:
      return choose.oneOf(ANYTHING);
  }
}

function objectOf(schema: JsonSchema, choose: Chooser, components: Components, wild: number): Record<string, unknown> {
  const { properties = {}, required = [] } = schema;
  const chosen = Object.entries(properties).filter(([name]) =>
    required.includes(name) ? !choose.chance(wild) : choose.chance(0.4),
  );
  const value = Object.fromEntries(
    chosen.map(([name, property]) => [name, madeValue(property, choose, components, wild, name)]),
  );
  if (choose.chance(wild)) value[choose.oneOf(TEXTS)] = choose.oneOf(ANYTHING);
  return value;
}

function numberOf(schema: JsonSchema, choose: Chooser, name: string): number {
  // Most of what has a number exists with a small one.
  if (/id$|ids$|ordinal|number/i.test(name) && choose.chance(0.8)) return 1 + choose.below(3);
  const low = schema.minimum ?? schema.exclusiveMinimum;
  const high = schema.maximum ?? schema.exclusiveMaximum;
  if (low !== undefined && high !== undefined && choose.chance(0.8))
    return choose.oneOf([low, high, choose.between(low, high), Math.round(choose.between(low, high))]);
  const fitting = NUMBERS.filter((number) => number >= (low ?? -Infinity) && number <= (high ?? Infinity));
  return choose.chance(0.3) ? choose.between(0, 3000) : choose.oneOf(fitting.length > 0 ? fitting : NUMBERS);
}

function textOf({ minLength = 0, maxLength = Infinity }: JsonSchema, choose: Chooser, name: string): string {
  const near = NEAR[name];
  if (near !== undefined) return near;
  const fitting = TEXTS.filter(({ length }) => length >= minLength && length <= maxLength);
  return choose.oneOf(fitting.length > 0 ? fitting : TEXTS);
}
