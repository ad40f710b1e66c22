import type { Readable } from 'node:stream';
import type { Static, TObject, TSchema } from 'typebox';
import type { Right } from '../../entities/device.ts';

export const TAGS = {
  live: 'The line: its state, its stage and the spool being wound.',
  alarms: 'Alarms: acknowledge them, silence them, set how each type behaves, read the journal.',
  people: 'Who is notified of alarms, over which channels, and alarm tests.',
  printers: 'The printers that a spool is judged for.',
  runs: 'Runs and their readings; importing recorded logs and archives as runs.',
  spools: 'Spools, their sections, verdicts and cut lists.',
  stock: 'What is left of coils and spools, and what became of prints.',
  'set-up': 'Settings of the line, serial ports, the log, the record and its backups.',
  access: 'Who may use the service: paired devices, and tokens of programs.',
} as const;
type Tag = keyof typeof TAGS;

export type Method = 'GET' | 'POST' | 'PUT' | 'DELETE';
export type Key = `${Method} /${string}`;

/** One route: what it accepts and what it returns. Its key contains method and path. */
export interface RouteSpec {
  /** Name of the function in a generated client. */
  readonly operationId: string;
  readonly tag: Tag;
  /** The right that a caller needs; 'none' = anyone may ask. */
  readonly right: Right | 'none';
  readonly summary: string;
  readonly description: string;
  readonly params?: TObject;
  readonly query?: TObject;
  /** If null is allowed, the body may be left out. */
  readonly body?: TSchema;
  /** Status and content of success; null = no content; 200 beside 201 = it was there already. Every other status returns a Problem. */
  readonly answers:
    | { readonly 200: TSchema }
    | { readonly 201: TSchema; readonly 200?: TSchema }
    | { readonly 204: null };
  /** Media types of the response, if not only JSON. */
  readonly produces?: readonly [string, ...string[]];
  /** Media types of a binary body, which the handler receives as a stream. */
  readonly consumes?: readonly [string, ...string[]];
  readonly bodyBytesMax?: number;
}

export type RouteTable = Readonly<Record<Key, RouteSpec>>;

/** Preserves the type of each entry; handlers and page are typed by it. */
export const routes = <T extends RouteTable>(table: T): T => table;

/** 'GET /api/spools/:id' → method and path. */
export function partsOf(key: string): { readonly method: Method; readonly path: string } {
  const space = key.indexOf(' ');
  return { method: key.slice(0, space) as Method, path: key.slice(space + 1) };
}

/** The usual one first. */
export function successesOf(spec: RouteSpec): readonly [Success, ...Success[]] {
  const all = Object.entries(spec.answers) as [string, TSchema | null][];
  return all.map(([status, schema]) => ({ status: Number(status), schema })).reverse() as [Success, ...Success[]];
}

interface Success {
  readonly status: number;
  readonly schema: TSchema | null;
}

export function mayBeNull(schema: TSchema): boolean {
  return ((schema as { anyOf?: { type?: string }[] }).anyOf ?? []).some(({ type }) => type === 'null');
}

// ---- what the handlers receive and return ----

type Part<S, Name extends string, Else> = S extends { readonly [K in Name]: infer P extends TSchema }
  ? Static<P>
  : Else;
type Nothing = Readonly<Record<never, never>>;

/** Params, query and body after validation, with defaults filled in. */
export interface Checked<S> {
  readonly params: Part<S, 'params', Nothing>;
  readonly query: Part<S, 'query', Nothing>;
  readonly body: S extends { readonly consumes: unknown } ? unknown : Part<S, 'body', null>;
}

type ReadOnly<T> = T extends readonly (infer I)[]
  ? ArrayLike<ReadOnly<I>>
  : T extends object
    ? { readonly [K in keyof T]: ReadOnly<T[K]> }
    : T;

type AnswerSchema<S extends { readonly answers: unknown }> = S['answers'][keyof S['answers']];

/** Extra fields are allowed; they are not written. */
export type Answered<S extends RouteSpec> = S extends { readonly produces: unknown }
  ? Readable | Buffer | ReadOnly<StaticOf<AnswerSchema<S>>>
  : ReadOnly<StaticOf<AnswerSchema<S>>>;

// biome-ignore lint/suspicious/noConfusingVoidType: a handler whose answer is empty returns nothing
type StaticOf<T> = T extends TSchema ? Static<T> : void;

// ---- what the page sends and receives ----

type MayBeLeftOut<P> = { [K in keyof P]: P[K] extends { readonly default: unknown } ? K : never }[keyof P];
/** What the caller writes: fields with a default may be left out. */
type Written<S> =
  S extends TObject<infer P>
    ? Omit<Static<S>, MayBeLeftOut<P>> & Partial<Pick<Static<S>, MayBeLeftOut<P> & keyof Static<S>>>
    : S extends TSchema
      ? Static<S>
      : never;

type Query<T> = Nothing extends T ? { readonly query?: T } : { readonly query: T };
type Body<T> = unknown extends T ? { readonly body: T } : null extends T ? { readonly body?: T } : { readonly body: T };

/** What a call needs; if anything is missing, it does not compile. */
export type Call<S> = (S extends { readonly params: infer P } ? { readonly params: Written<P> } : unknown) &
  (S extends { readonly query: infer Q } ? Query<Written<Q>> : unknown) &
  (S extends { readonly body: infer B } ? Body<Written<B>> : unknown);

export type Answer<S extends RouteSpec> = AnswerSchema<S> extends TSchema ? Static<AnswerSchema<S>> : undefined;
