import { messageOf, Problem, type ProblemParts } from '../problem/problem.ts';

/** The functions of a worker. Arguments and results are plain data, because they are copied between threads. */
// biome-ignore lint/suspicious/noExplicitAny: any function will do; each caller names the right one.
export type WorkerFunctions<F> = { readonly [Name in keyof F]: (...args: any[]) => unknown };

/** Makes the functions of a worker. @param notify sends a notice to the opener that is not the answer to a call */
export type CreateFunctions<F, Start, Notice = never> = (start: Start, notify: (notice: Notice) => void) => F;

/** A result whose buffers are transferred to the caller instead of copied. The worker cannot use them afterwards. */
export class HandedOver<R> {
  readonly result: R;
  readonly buffers: readonly ArrayBuffer[];

  constructor(result: R, arrays: Iterable<ArrayBufferView>) {
    this.result = result;
    this.buffers = buffersOf(arrays);
  }
}

/** Each buffer once, as the transfer list of `postMessage` needs it. */
export function buffersOf(arrays: Iterable<ArrayBufferView>): ArrayBuffer[] {
  return [...new Set([...arrays].map(({ buffer }) => buffer as ArrayBuffer))];
}

export type ResultOf<Returned> = Awaited<Returned> extends HandedOver<infer R> ? R : Awaited<Returned>;

export type ToWorker = { readonly id: number; readonly name: string; readonly args: readonly unknown[] } | 'close';

export type FromWorker =
  | { readonly id: number; readonly result: unknown }
  | { readonly id: number; readonly failed: Failure }
  | { readonly notice: unknown };

/** A thrown error in a form that can be copied between threads. */
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
