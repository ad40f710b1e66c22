import { Problem } from '../../problem/problem.ts';
import type { Sized } from './sized.ts';

/** Each holds a thread and some thousand readings: about 40 MB as Parquet. */
const AT_ONCE = 3;
/** A piece is half a megabyte. Whoever takes none for so long has stopped reading. */
const STALLED_MS = 120_000;

/** Makes few exports at a time, and gives up those that no one reads any more. */
export class Downloads {
  readonly #stalledMs: number;
  #open = 0;

  constructor(stalledMs = STALLED_MS) {
    this.#stalledMs = stalledMs;
  }

  /** @throws Problem `too-many-requests`, and what `make` throws */
  async start(make: () => Promise<Sized>): Promise<Sized> {
    if (this.#open >= AT_ONCE)
      throw new Problem(
        'too-many-requests',
        `${AT_ONCE} downloads of readings are being made.`,
        'Wait until one of them is done, then try again.',
      );
    this.#open++;
    try {
      const { bytesAbout, bytes } = await make();
      return { bytesAbout, bytes: this.#watched(bytes) };
    } catch (thrown) {
      this.#open--;
      throw thrown;
    }
  }

  #watched(bytes: AsyncIterable<Uint8Array>): AsyncIterable<Uint8Array> {
    const from = bytes[Symbol.asyncIterator]();
    let isOver = false;
    const end = async () => {
      clearTimeout(timer);
      if (isOver) return;
      isOver = true;
      try {
        await from.return?.();
      } finally {
        this.#open--;
      }
    };
    const watch = () => setTimeout(() => void end().catch(() => {}), this.#stalledMs).unref();
    let timer = watch();
    // Not a generator: that would not end before its first piece was taken.
    const pieces: AsyncIterator<Uint8Array> = {
      next: async () => {
        clearTimeout(timer);
        if (isOver) throw new Error('No one read this download for too long.');
        try {
          const piece = await from.next();
          if (piece.done) await end();
          else timer = watch();
          return piece;
        } catch (thrown) {
          await end();
          throw thrown;
        }
      },
      return: async () => {
        await end();
        return { done: true, value: undefined };
      },
    };
    return { [Symbol.asyncIterator]: () => pieces };
  }
}
