import { messageOf, Problem, type ProblemParts } from '../problem/problem.ts';

/** What a worker can be asked to do. Arguments and results are plain data: they travel to its thread and back. */
// biome-ignore lint/suspicious/noExplicitAny: any function will do; each caller names the right one.
export type WorkerFunctions<F> = { readonly [Name in keyof F]: (...given: any[]) => unknown };

/** Makes the functions of a worker. @param notify tells the one who opened it what nobody asked for */
export type CreateFunctions<F, Start, Notice = never> = (start: Start, notify: (notice: Notice) => void) => F;

/** A result whose buffers go over to the one who asked, rather than being copied: here they are gone then. */
export class HandedOver<R> {
  readonly result: R;
  readonly buffers: readonly ArrayBuffer[];

  constructor(result: R, arrays: Iterable<ArrayBufferView>) {
    this.result = result;
    this.buffers = buffersOf(arrays);
  }
}

/** Each buffer once, as a message wants them that hands them over. */
export function buffersOf(arrays: Iterable<ArrayBufferView>): ArrayBuffer[] {
  return [...new Set([...arrays].map(({ buffer }) => buffer as ArrayBuffer))];
}

export type ResultOf<Returned> = Awaited<Returned> extends HandedOver<infer R> ? R : Awaited<Returned>;

export type ToWorker = { readonly id: number; readonly name: string; readonly given: readonly unknown[] } | 'close';

export type FromWorker =
  | { readonly id: number; readonly result: unknown }
  | { readonly id: number; readonly failed: Failure }
  | { readonly notice: unknown };

/** What was thrown, as it travels between threads. */
export interface Failure {
  readonly message: string;
  readonly problem: ProblemParts | null;
}

export function failureOf(thrown: unknown): Failure {
  return { message: messageOf(thrown), problem: thrown instanceof Problem ? thrown.parts : null };
}

export function thrownOf({ message, problem }: Failure): Error {
  return problem === null ? new Error(message) : Problem.of(problem);
}
