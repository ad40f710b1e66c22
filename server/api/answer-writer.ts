/**
 * Writes a response as JSON according to its schema: numbers with the decimals given by `x-digits`, NaN and ±∞ as null
 * where null is allowed, and only the fields of the schema. A function is compiled for each schema, because the live state
 * is written several times a second.
 */

export type WriteAnswer = (answer: unknown) => string;

interface Schema {
  readonly type?: string;
  readonly const?: unknown;
  readonly properties?: Readonly<Record<string, Schema>>;
  readonly required?: readonly string[];
  readonly patternProperties?: Readonly<Record<string, Schema>>;
  readonly items?: Schema;
  readonly anyOf?: readonly Schema[];
  readonly 'x-digits'?: number;
  readonly $id?: string;
}

/** The response does not match its schema, which is a defect of the view. */
function wrong(value: unknown, expected: string, where: string): never {
  const found = typeof value === 'object' && value !== null ? 'an object' : String(value);
  throw new TypeError(`${where} must be ${expected}, but is ${found}.`);
}

// biome-ignore lint/suspicious/noControlCharactersInRegex: these are what JSON must escape
const TO_ESCAPE = /["\\\u0000-\u001f\ud800-\udfff]/;

const TOOLS = {
  wrong,
  text: (value: string) => (TO_ESCAPE.test(value) ? JSON.stringify(value) : `"${value}"`),
  json: (value: unknown) => JSON.stringify(value) ?? 'null',
};

/** @throws TypeError if the schema cannot be written, such as a union of objects that cannot be distinguished */
export function compileWriter(schema: object): WriteAnswer {
  const source = new Source();
  const body = source.write(schema as Schema, 'v', (schema as Schema).$id ?? 'The answer');
  const code = `const {${Object.keys(TOOLS).join()}} = tools;\n${source.functions.join('\n')}\nreturn (v) => ${body};`;
  return new Function('tools', code)(TOOLS) as WriteAnswer;
}

/** Collects a function for each object, list and union; each expression that it returns writes one value. */
class Source {
  readonly functions: string[] = [];
  readonly #names = new Map<Schema, string>();

  write(schema: Schema, value: string, where: string): string {
    const place = JSON.stringify(where);
    const { anyOf } = schema;
    if (anyOf !== undefined) return this.#called(schema, value, () => this.#union(anyOf, where));
    if (schema.const !== undefined) return JSON.stringify(JSON.stringify(schema.const));
    switch (schema.type) {
      case 'string':
        return `(typeof ${value} === 'string' ? text(${value}) : wrong(${value}, 'a text', ${place}))`;
      case 'boolean':
        return `(${value} === true ? 'true' : ${value} === false ? 'false' : wrong(${value}, 'true or false', ${place}))`;
      case 'integer':
      case 'number':
        return this.#called(schema, value, () => {
          const written = `'' + ${rounded(schema)}`;
          return `return typeof v === 'number' && v - v === 0 ? ${written} : wrong(v, 'a number', ${place});`;
        });
      case 'null':
        return "'null'";
      case 'array':
        return this.#called(schema, value, () => this.#list(schema, where));
      case 'object':
        return this.#called(schema, value, () =>
          schema.patternProperties === undefined ? this.#object(schema, where) : this.#record(schema, where),
        );
      case undefined:
        return `json(${value})`;
      default:
        throw new TypeError(`${where}: no way to write “${schema.type}”.`);
    }
  }

  /** Compiles a schema once, even if it appears in several places; errors name the first one. */
  #called(schema: Schema, value: string, body: () => string): string {
    let name = this.#names.get(schema);
    if (name === undefined) {
      name = `w${this.#names.size}`;
      this.#names.set(schema, name);
      this.functions.push(`function ${name}(v) { ${body()} }`);
    }
    return `${name}(${value})`;
  }

  #object({ properties = {}, required = [] }: Schema, where: string): string {
    const place = JSON.stringify(where);
    const field = ([name, schema]: [string, Schema]) => {
      const key = JSON.stringify(`,${JSON.stringify(name)}:`);
      return `${key} + ${this.write(schema, `v[${JSON.stringify(name)}]`, `${where}.${name}`)}`;
    };
    const fields = Object.entries(properties);
    const [first, ...others] = fields.filter(([name]) => required.includes(name)).map(field);
    const sometimes = fields
      .filter(([name]) => !required.includes(name))
      .map(([name, schema]) => `if (v[${JSON.stringify(name)}] !== undefined) s += ${field([name, schema])};`);
    // Each field starts with a comma; the first comma becomes the brace.
    const always = first === undefined ? "''" : [first.replace('",', '"{'), ...others].join(' + ');
    const check = `if (typeof v !== 'object' || v === null) wrong(v, 'an object', ${place});`;
    if (sometimes.length === 0) return `${check} return ${first === undefined ? "'{'" : always} + '}';`;
    const end = first !== undefined ? "s + '}'" : "'{' + s.slice(1) + '}'";
    return `${check} let s = ${always}; ${sometimes.join(' ')} return ${end};`;
  }

  #record({ patternProperties = {} }: Schema, where: string): string {
    const [values = {}] = Object.values(patternProperties);
    const written = this.write(values, 'v[key]', `${where}.*`);
    return `let s = ''; for (const key of Object.keys(v)) s += ',' + text(key) + ':' + ${written}; return '{' + s.slice(1) + '}';`;
  }

  #list({ items = {} }: Schema, where: string): string {
    const check = `if (typeof v !== 'object' || v === null || typeof v.length !== 'number') wrong(v, 'a list', ${JSON.stringify(where)});`;
    const written = this.write(items, 'v[i]', `${where}[]`);
    return `${check} let s = '['; for (let i = 0; i < v.length; i++) s += i === 0 ? ${written} : ',' + ${written}; return s + ']';`;
  }

  #union(branches: readonly Schema[], where: string): string {
    const others = branches.filter(({ type }) => type !== 'null');
    const nullable = others.length < branches.length;
    const tests = others.map((branch) => testOf(branch, others, where));
    const steps = others.map((branch, i) => `if (${tests[i]}) return ${this.write(branch, 'v', where)};`);
    // Where null is allowed, it also represents a value that was not measured.
    const none = nullable
      ? "if (v === null || v === undefined || (typeof v === 'number' && v - v !== 0)) return 'null';"
      : '';
    return `${none} ${steps.join(' ')} return wrong(v, 'as its schema says', ${JSON.stringify(where)});`;
  }
}

/** Code that tests whether a value belongs to this branch of a union. */
function testOf(branch: Schema, others: readonly Schema[], where: string): string {
  if (branch.const !== undefined) return `v === ${JSON.stringify(branch.const)}`;
  const alike = others.filter(({ type, const: one }) => one === undefined && type === branch.type);
  if (alike.length > 1) {
    const tag = Object.entries(branch.properties ?? {}).find(([name]) =>
      alike.every(({ properties }) => properties?.[name]?.const !== undefined),
    );
    if (tag === undefined) throw new TypeError(`${where}: the branches of this union cannot be distinguished.`);
    const [name, { const: value }] = tag;
    return `typeof v === 'object' && v !== null && v[${JSON.stringify(name)}] === ${JSON.stringify(value)}`;
  }
  switch (branch.type) {
    case 'integer':
    case 'number':
      return "typeof v === 'number'";
    case 'array':
      return "typeof v === 'object' && v !== null && typeof v.length === 'number'";
    case 'object':
      return "typeof v === 'object' && v !== null && typeof v.length !== 'number'";
    case undefined:
      return 'true';
    default:
      return `typeof v === '${branch.type}'`;
  }
}

/** Beyond this a double has no decimals left to round. */
const EXACT_UP_TO = 2 ** 52;

function rounded({ type, 'x-digits': digits }: Schema): string {
  if (type === 'number' && digits === undefined) return 'v';
  const scale = 10 ** (digits ?? 0);
  return `(v < ${EXACT_UP_TO / scale} && v > ${-EXACT_UP_TO / scale} ? Math.round(v * ${scale}) / ${scale} : v)`;
}
