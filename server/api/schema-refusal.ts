import type { ErrorObject } from 'ajv';
import { namesIn, pointerTo } from '../problem/pointer.ts';
import { Problem } from '../problem/problem.ts';

interface FieldSchema {
  readonly const?: unknown;
  readonly enum?: readonly unknown[];
  readonly type?: string;
  readonly description?: string;
}

interface ObjectSchema {
  readonly properties?: Readonly<Record<string, FieldSchema>>;
}

const TYPE_TEXT: Readonly<Record<string, string>> = {
  number: 'a number',
  integer: 'a whole number',
  string: 'text',
  boolean: 'true or false',
  array: 'a list',
  object: 'an object of names and values',
  null: 'null',
};
const PARTS: Readonly<Record<string, string>> = { body: 'body', querystring: 'query', params: 'address' };
const SHOWN_MAX = 60;
const SEE_DOCUMENT = 'See /openapi.json for what this address takes.';

/**
 * What the schema of a route refuses, in words a person understands.
 * @param errors as Ajv lists them with `verbose`
 * @param context what was checked: body, querystring or params
 */
export function schemaRefusal(errors: readonly ErrorObject[], context: string): Problem {
  const error = mostTelling(errors);
  const { what, remedy, pointer } = inText(error, PARTS[context] ?? 'request');
  return new Problem('bad-request', what, remedy, { pointer });
}

/** Of several forms that something may have, the one that it was meant to have tells what is wrong with it. */
function mostTelling(errors: readonly ErrorObject[]): ErrorObject {
  const choice = errors.findLast(({ keyword }) => keyword === 'anyOf');
  if (choice === undefined) return errors[0]!;
  const others = errors.filter(({ keyword }) => keyword !== 'anyOf');
  if (others.every(({ keyword, instancePath }) => keyword === 'type' && instancePath === choice.instancePath)) {
    return { ...choice, keyword: 'type', params: { type: others.flatMap(({ params }) => params.type) } };
  }
  const forms = choice.schema as readonly ObjectSchema[];
  const meant = forms.findIndex((form) => isMeant(form, choice.data));
  const own = errors.filter(({ schemaPath }) => schemaPath.startsWith(`${choice.schemaPath}/${meant}/`));
  return own[0] ?? kindError(forms, choice) ?? errors[0]!;
}

function isMeant({ properties = {} }: ObjectSchema, data: unknown): boolean {
  const marks = Object.entries(properties).filter(([, schema]) => 'const' in schema);
  return marks.length > 0 && marks.every(([name, schema]) => fieldOf(data, name) === schema.const);
}

/** None of the forms has the mark that was given: what is wrong is the mark. */
function kindError(forms: readonly ObjectSchema[], choice: ErrorObject): ErrorObject | null {
  const [mark] = Object.entries(forms[0]?.properties ?? {}).find(([, schema]) => 'const' in schema) ?? [];
  if (mark === undefined || typeof choice.data !== 'object' || choice.data === null) return null;
  const data = fieldOf(choice.data, mark);
  const at = { ...choice, parentSchema: forms[0] as object };
  if (data === undefined) return { ...at, keyword: 'required', params: { missingProperty: mark } };
  return {
    ...at,
    keyword: 'enum',
    instancePath: choice.instancePath + pointerTo(mark),
    params: { allowedValues: forms.map(({ properties }) => properties?.[mark]?.const) },
    data,
  };
}

function fieldOf(data: unknown, name: string): unknown {
  return typeof data === 'object' && data !== null ? (data as Record<string, unknown>)[name] : undefined;
}

interface Words {
  readonly what: string;
  readonly remedy: string;
  readonly pointer: string | null;
}

function inText(error: ErrorObject, part: string): Words {
  const { keyword, instancePath, params, data, message = 'is not valid' } = error;
  const name = instancePath === '' ? `The ${part}` : named(instancePath);
  const own = { pointer: instancePath === '' ? null : instancePath };
  switch (keyword) {
    case 'required': {
      const field = String(params.missingProperty);
      const pointer = instancePath + pointerTo(field);
      const { properties = {} } = (error.parentSchema ?? {}) as ObjectSchema;
      const what = `${quoted(field)} is missing${inPart(instancePath, part)}.`;
      return { pointer, what, remedy: `Give ${quoted(field)}${kindOf(properties[field])}.` };
    }
    case 'additionalProperties': {
      const field = String(params.additionalProperty);
      const pointer = instancePath + pointerTo(field);
      const where = instancePath === '' ? 'here' : `in ${named(instancePath)}`;
      const what = `${quoted(field)} is not known ${where}.`;
      return { pointer, what, remedy: knownFields(error.parentSchema) };
    }
    case 'type': {
      const types = [params.type].flat().map((type) => TYPE_TEXT[String(type)] ?? String(type));
      return { ...own, what: `${name} can't be ${shown(data)}.`, remedy: `Give ${types.join(' or ')}.` };
    }
    case 'enum':
      return {
        ...own,
        what: `${name} can't be ${shown(data)}.`,
        remedy: `Give one of ${(params.allowedValues as unknown[]).join(', ')}.`,
      };
    case 'minimum':
    case 'maximum':
    case 'exclusiveMinimum':
    case 'exclusiveMaximum':
      return { ...own, what: `${name} can't be ${shown(data)}.`, remedy: `Give ${boundText(keyword, params.limit)}.` };
    case 'minLength':
      return { ...own, what: `${name} is too short.`, remedy: `Give at least ${counted(params.limit, 'character')}.` };
    case 'maxLength':
      return { ...own, what: `${name} is too long.`, remedy: `Give at most ${counted(params.limit, 'character')}.` };
    case 'minItems':
      return { ...own, what: `${name} has too few entries.`, remedy: `Give at least ${params.limit}.` };
    case 'maxItems':
      return { ...own, what: `${name} has too many entries.`, remedy: `Give at most ${params.limit}.` };
    case 'uniqueItems':
      return { ...own, what: `${name} names something twice.`, remedy: 'Give each entry once.' };
    case 'pattern': {
      const { description } = (error.parentSchema ?? {}) as FieldSchema;
      const remedy = description === undefined ? SEE_DOCUMENT : `It takes: ${description}.`;
      return { ...own, what: `${name} can't be ${shown(data)}.`, remedy };
    }
    default:
      return { ...own, what: `${name} ${message}.`, remedy: SEE_DOCUMENT };
  }
}

/** A field within others: “quiet › to”. */
function named(instancePath: string): string {
  return quoted(namesIn(instancePath).join(' › '));
}

function inPart(instancePath: string, part: string): string {
  return ` in ${instancePath === '' ? `the ${part}` : named(instancePath)}`;
}

function knownFields(schema: object | undefined): string {
  const known = Object.keys((schema as ObjectSchema | undefined)?.properties ?? {});
  return known.length === 0 ? 'Leave it out: nothing is taken here.' : `Known are ${known.join(', ')}.`;
}

/** ", a number" and the like; '' where the schema says no more than a name. */
function kindOf(schema: FieldSchema | undefined): string {
  if (schema?.enum !== undefined) return `, one of ${schema.enum.join(', ')}`;
  const text = TYPE_TEXT[schema?.type ?? ''];
  return text === undefined ? '' : `, ${text}`;
}

function boundText(keyword: string, limit: number): string {
  if (keyword === 'minimum') return `${limit} or more`;
  if (keyword === 'maximum') return `${limit} or less`;
  return keyword === 'exclusiveMinimum' ? `more than ${limit}` : `less than ${limit}`;
}

function counted(n: number, what: string): string {
  return `${n} ${what}${n === 1 ? '' : 's'}`;
}

/** The value as it came, but no long text: that may be a certificate or a note. */
function shown(data: unknown): string {
  if (typeof data === 'string') return data.length > SHOWN_MAX ? 'a long text' : quoted(data);
  if (data === undefined) return 'missing';
  if (Array.isArray(data)) return 'a list';
  return typeof data === 'object' && data !== null ? 'an object' : String(data);
}

function quoted(text: string): string {
  return `“${text}”`;
}
