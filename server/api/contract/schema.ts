import {
  type Static,
  type TNull,
  type TObject,
  type TProperties,
  type TSchema,
  type TStringOptions,
  type TUnion,
  Type,
} from 'typebox';

/**
 * Helpers to write the contract. Times are UTC ms, lengths mm, temperatures °C, power and shares 0…1.
 *
 * `digits` is the number of decimals that a number is written with. It is in the schema as `x-digits`, where the OpenAPI
 * document shows it and `answer-writer.ts` applies it, so views do not round.
 */

interface NumberOptions {
  readonly digits?: number;
  readonly description?: string;
  readonly minimum?: number;
  readonly exclusiveMinimum?: number;
  readonly maximum?: number;
}

export const num = ({ digits, ...options }: NumberOptions = {}) =>
  Type.Number(digits === undefined ? options : { ...options, 'x-digits': digits });

export const int = (options: Omit<NumberOptions, 'digits'> = {}) => Type.Integer(options);

export const text = (options: TStringOptions = {}) => Type.String(options);

export const bool = (description?: string) => Type.Boolean(describedBy(description));

/** A string enum. */
export const oneOf = <const T extends readonly string[]>(values: T, description?: string) =>
  Type.Unsafe<T[number]>({ type: 'string', enum: [...values], ...describedBy(description) });

export const list = <T extends TSchema>(items: T, description?: string) => Type.Array(items, describedBy(description));

export const orNull = <T extends TSchema>(schema: T, description?: string): TUnion<[T, TNull]> =>
  Type.Union([schema, Type.Null()], describedBy(description));

export const numOrNull = (options: NumberOptions = {}) => orNull(num(options));

/** An object that several responses share: a component of the OpenAPI document. */
export const component = <P extends TProperties>(name: string, properties: P, description?: string): TObject<P> =>
  Type.Object(properties, { $id: name, ...describedBy(description) });

/** An object that a caller sends. Unknown fields are refused, so that a misspelt one is noticed. */
export const input = <P extends TProperties>(properties: P, options: { readonly $id?: string } = {}): TObject<P> =>
  Type.Object(properties, { ...options, additionalProperties: false });

/** A response that is a file or a picture. */
export const bytes = () => Type.Unsafe<Uint8Array>({ type: 'string', format: 'binary' });

/** A field that the caller may leave out; the handler always receives a value. */
export const withDefault = <T extends TSchema>(schema: T, value: Static<T>): T & { readonly default: unknown } =>
  Object.assign(schema, { default: value });

export const IdParam = input({ id: int({ minimum: 1 }) });

function describedBy(description: string | undefined): { description?: string } {
  return description === undefined ? {} : { description };
}
