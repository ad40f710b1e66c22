import { setImmediate as nextTurn } from 'node:timers/promises';

/** Goes through what may be thousands after years. Between two of them the line is watched: it must not wait for all. */
export async function* inTurns<T>(items: Iterable<T>): AsyncGenerator<T> {
  for (const item of items) {
    yield item;
    await nextTurn();
  }
}
