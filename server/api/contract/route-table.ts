import type { Readable } from 'node:stream';
import type { Static, TObject, TSchema } from 'typebox';

export const TAGS = {
  live: 'The line as it runs: its state, its stage, the spool being wound.',
  alarms: 'Alarms: acknowledge them, silence them, set how each type behaves, read the journal.',
  people: 'Who is notified of an alarm, over which channels, and alarm tests.',
  printers: 'The printers that a spool is judged for.',
  runs: 'Runs, their readings, and logs or archives that become runs.',
  spools: 'Spools, their sections, verdicts and cut lists.',
  'set-up': 'Settings of the line, the source, the record and its backups.',
  access: 'Tickets in place of the access key.',
} as const;
type Tag = keyof typeof TAGS;

export type Method = 'GET' | 'POST' | 'PUT' | 'DELETE';
export type Key = `${Method} /${string}`;

/** One address: what it takes and what it answers. Its key gives method and path. */
export interface RouteSpec {
  /** Name of the function in a generated client. */
  readonly operationId: string;
  readonly tag: Tag;
  readonly summary: string;
  readonly description: string;
  readonly params?: TObject;
  readonly query?: TObject;
  /** A body that may be null may be left out. */
  readonly body?: TSchema;
  /** The one status of success, and what comes with it; null = nothing. Everything else answers a Problem. */
  readonly answers: { readonly 200: TSchema } | { readonly 201: TSchema } | { readonly 204: null };
  /** Media types of an answer that is not JSON, or not only. */
  readonly produces?: readonly [string, ...string[]];
  /** Media types of a body of bytes, which the handler gets as a stream. */
  readonly consumes?: readonly [string, ...string[]];
  readonly bodyBytesMax?: number;
  /** Open without the access key. */
  readonly keyless?: true;
  /** Also opened by `?ticket=`, for a link that downloads or a WebSocket. */
  readonly ticket?: true;
}

export type RouteTable = Readonly<Record<Key, RouteSpec>>;

/** Keeps each entry's own type, which server and page are typed by. */
export const routes = <T extends RouteTable>(table: T): T => table;

/** 'GET /api/spools/:id' → method and path. */
export function partsOf(key: string): { readonly method: Method; readonly path: string } {
  const space = key.indexOf(' ');
  return { method: key.slice(0, space) as Method, path: key.slice(space + 1) };
}

export function successOf(spec: RouteSpec): { readonly status: number; readonly schema: TSchema | null } {
  const [[status, schema]] = Object.entries(spec.answers) as [[string, TSchema | null]];
  return { status: Number(status), schema };
}

export function mayBeNull(schema: TSchema): boolean {
  return ((schema as { anyOf?: { type?: string }[] }).anyOf ?? []).some(({ type }) => type === 'null');
}

// ---- what the server's handlers get and give ----

type Part<S, Name extends string, Else> = S extends { readonly [K in Name]: infer P extends TSchema }
  ? Static<P>
  : Else;
type Nothing = Readonly<Record<never, never>>;

/** Params, query and body as checked, with defaults filled in. */
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

/** More fields than the contract has may be given; they are not written. */
export type Answered<S extends RouteSpec> = S extends { readonly produces: unknown }
  ? Readable | Buffer | ReadOnly<StaticOf<AnswerSchema<S>>>
  : ReadOnly<StaticOf<AnswerSchema<S>>>;

// biome-ignore lint/suspicious/noConfusingVoidType: a handler whose answer is empty returns nothing
type StaticOf<T> = T extends TSchema ? Static<T> : void;

// ---- what the page gives and gets ----

type MayBeLeftOut<P> = { [K in keyof P]: P[K] extends { readonly default: unknown } ? K : never }[keyof P];
/** As the caller writes it: what has a default may be left out. */
type Written<S> =
  S extends TObject<infer P>
    ? Omit<Static<S>, MayBeLeftOut<P>> & Partial<Pick<Static<S>, MayBeLeftOut<P> & keyof Static<S>>>
    : S extends TSchema
      ? Static<S>
      : never;

type Query<T> = Nothing extends T ? { readonly query?: T } : { readonly query: T };
type Body<T> = unknown extends T ? { readonly body: T } : null extends T ? { readonly body?: T } : { readonly body: T };

/** What a call takes: everything that the address needs, or it does not compile. */
export type Call<S> = (S extends { readonly params: infer P } ? { readonly params: Written<P> } : unknown) &
  (S extends { readonly query: infer Q } ? Query<Written<Q>> : unknown) &
  (S extends { readonly body: infer B } ? Body<Written<B>> : unknown);

export type Answer<S extends RouteSpec> = AnswerSchema<S> extends TSchema ? Static<AnswerSchema<S>> : undefined;
