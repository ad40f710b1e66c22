import type { ErrorObject } from 'ajv';
import { namesIn, pointerTo } from '../problem/pointer.ts';
import { Problem } from '../problem/problem.ts';
import { boundText, counted, TYPE_TEXT } from '../problem/sentence.ts';

interface FieldSchema {
  readonly const?: unknown;
  readonly enum?: readonly unknown[];
  readonly type?: string;
  readonly description?: string;
  readonly anyOf?: readonly FieldSchema[];
}

interface ObjectSchema {
  readonly properties?: Readonly<Record<string, FieldSchema>>;
}

const PARTS: Readonly<Record<string, string>> = { body: 'body', querystring: 'query', params: 'address' };
const SHOWN_MAX = 60;
const SEE_DOCUMENT = 'See /openapi.json for what this address takes.';

/**
 * Explains to a user what the schema of a route refused.
 * @param errors as Ajv lists them with `verbose`
 * @param context what was checked: body, querystring or params
 */
export function schemaRefusal(errors: readonly ErrorObject[], context: string): Problem {
  const [first] = errors;
  if (first === undefined) throw new TypeError('A refusal needs at least one error.');
  const error = mostSpecific(errors, first);
  const { what, remedy, pointer } = inText(error, PARTS[context] ?? 'request');
  return new Problem('bad-request', what, remedy, { pointer });
}

/** If several forms are allowed, reports the error of the form that the value was meant to have. */
function mostSpecific(errors: readonly ErrorObject[], first: ErrorObject): ErrorObject {
  const choice = errors.findLast(({ keyword }) => keyword === 'anyOf');
  if (choice === undefined) return first;
  const others = errors.filter(({ keyword }) => keyword !== 'anyOf');
  if (others.every(({ keyword, instancePath }) => keyword === 'type' && instancePath === choice.instancePath)) {
    return { ...choice, keyword: 'type' };
  }
  const forms = choice.schema as readonly ObjectSchema[];
  const meant = forms.findIndex((form) => isMeant(form, choice.data));
  const own = errors.filter(({ schemaPath }) => schemaPath.startsWith(`${choice.schemaPath}/${meant}/`));
  return own[0] ?? kindError(forms, choice) ?? first;
}

function isMeant({ properties = {} }: ObjectSchema, data: unknown): boolean {
  const tags = Object.entries(properties).filter(([, schema]) => 'const' in schema);
  return tags.length > 0 && tags.every(([name, schema]) => fieldOf(data, name) === schema.const);
}

/** The error of the field that distinguishes the forms, if its value fits none of them. */
function kindError(forms: readonly ObjectSchema[], choice: ErrorObject): ErrorObject | null {
  const [tag] = Object.entries(forms[0]?.properties ?? {}).find(([, schema]) => 'const' in schema) ?? [];
  if (tag === undefined || typeof choice.data !== 'object' || choice.data === null) return null;
  const data = fieldOf(choice.data, tag);
  const kinds = forms.map(({ properties }) => properties?.[tag]?.const);
  if (data === undefined) {
    const parentSchema = { properties: { [tag]: { enum: kinds } } };
    return { ...choice, keyword: 'required', params: { missingProperty: tag }, parentSchema };
  }
  const instancePath = choice.instancePath + pointerTo(tag);
  return { ...choice, keyword: 'enum', instancePath, params: { allowedValues: kinds }, data };
}

function fieldOf(data: unknown, name: string): unknown {
  return typeof data === 'object' && data !== null ? (data as Record<string, unknown>)[name] : undefined;
}

interface Explanation {
  readonly what: string;
  readonly remedy: string;
  readonly pointer: string | null;
}

function inText(error: ErrorObject, part: string): Explanation {
  const { keyword, instancePath, params, data, message = 'is not valid' } = error;
  const name = instancePath === '' ? `The ${part}` : named(instancePath);
  const own = { pointer: instancePath === '' ? null : instancePath };
  switch (keyword) {
    case 'required': {
      const field = String(params.missingProperty);
      const pointer = instancePath + pointerTo(field);
      const { properties = {} } = (error.parentSchema ?? {}) as ObjectSchema;
      const what = `${quoted(field)} is missing${inPart(instancePath, part)}.`;
      const wanted = wantedBy(properties[field]);
      return { pointer, what, remedy: `Give ${quoted(field)}${wanted === null ? '' : `, ${wanted}`}.` };
    }
    case 'additionalProperties': {
      const field = String(params.additionalProperty);
      const pointer = instancePath + pointerTo(field);
      const where = instancePath === '' ? 'here' : `in ${named(instancePath)}`;
      const what = `${quoted(field)} is not known ${where}.`;
      return { pointer, what, remedy: knownFields(error.parentSchema) };
    }
    case 'type': {
      const wanted = wantedBy(error.parentSchema as FieldSchema | undefined) ?? String(params.type);
      return { ...own, what: `${name} can't be ${shown(data)}.`, remedy: `Give ${wanted}.` };
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
      return { ...own, what: `${name} contains an entry twice.`, remedy: 'Give each entry once.' };
    case 'pattern': {
      const { description } = (error.parentSchema ?? {}) as FieldSchema;
      const remedy = description === undefined ? SEE_DOCUMENT : `It takes: ${description}.`;
      return { ...own, what: `${name} can't be ${shown(data)}.`, remedy };
    }
    default:
      return { ...own, what: `${name} ${message}.`, remedy: SEE_DOCUMENT };
  }
}

/** A nested field: “quiet › to”. */
function named(instancePath: string): string {
  return quoted(namesIn(instancePath).join(' › '));
}

function inPart(instancePath: string, part: string): string {
  return ` in ${instancePath === '' ? `the ${part}` : named(instancePath)}`;
}

function knownFields(schema: object | undefined): string {
  const known = Object.keys((schema as ObjectSchema | undefined)?.properties ?? {});
  return known.length === 0 ? 'Leave it out.' : `Known fields: ${known.join(', ')}.`;
}

/** Such as "a number or null"; null if the schema does not state it. */
function wantedBy({ enum: values, type, anyOf }: FieldSchema = {}): string | null {
  if (values !== undefined) return `one of ${values.join(', ')}`;
  if (anyOf === undefined) return TYPE_TEXT[type ?? ''] ?? null;
  // Several forms of an object are one kind of value.
  const [first = '', ...others] = new Set(anyOf.map((form) => wantedBy(form) ?? 'a value'));
  return [first, ...others].join(first.includes(' of ') ? ', or ' : ' or ');
}

/** The value as received, but no long text, which may be a certificate or a note. */
function shown(data: unknown): string {
  if (typeof data === 'string') return data.length > SHOWN_MAX ? 'a long text' : quoted(data);
  if (data === undefined) return 'missing';
  if (Array.isArray(data)) return 'a list';
  // `1e999`: its digits are gone.
  if (data === Number.POSITIVE_INFINITY || data === Number.NEGATIVE_INFINITY) return 'that large';
  return typeof data === 'object' && data !== null ? 'an object' : String(data);
}

function quoted(text: string): string {
  return `“${text}”`;
}
