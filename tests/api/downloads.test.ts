import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import { Downloads } from '../../server/api/export/downloads.ts';
import type { Sized } from '../../server/api/export/sized.ts';

const STALLED_MS = 1000;

let downloads: Downloads;
let closed = 0;

/** An export of three pieces. */
async function threePieces(): Promise<Sized> {
  let piece = 0;
  const from: AsyncIterator<Uint8Array> = {
    next: async () => (piece++ < 3 ? { done: false, value: new Uint8Array(1) } : { done: true, value: undefined }),
    return: async () => {
      closed++;
      return { done: true, value: undefined };
    },
  };
  return { bytesAbout: 3, bytes: { [Symbol.asyncIterator]: () => from } };
}

const start = async () => (await downloads.start(threePieces)).bytes[Symbol.asyncIterator]();
const refusal = expect.objectContaining({ code: 'too-many-requests' });

beforeEach(() => {
  vi.useFakeTimers();
  downloads = new Downloads(STALLED_MS);
  closed = 0;
});
afterEach(() => vi.useRealTimers());

describe('downloads of readings', () => {
  it('are made three at a time', async () => {
    const [first] = [await start(), await start(), await start()];
    await expect(start()).rejects.toEqual(refusal);
    for (let i = 0; i < 4; i++) await first.next();
    await start();
    await expect(start()).rejects.toEqual(refusal);
  });

  it('make room when their reader goes away, even before the first piece, and only once', async () => {
    const [first, second] = [await start(), await start(), await start()];
    await first.return?.();
    await first.return?.();
    await second.next();
    await second.return?.();
    expect(closed).toBe(2);
    await start();
    await start();
    await expect(start()).rejects.toEqual(refusal);
  });

  it('make room if they fail', async () => {
    for (let i = 0; i < 5; i++)
      await expect(downloads.start(() => Promise.reject(new Error('no reading')))).rejects.toThrow('no reading');
    await start();
  });

  it('are given up if no one reads them, and then fail instead of ending early', async () => {
    const [first] = [await start(), await start(), await start()];
    await first.next();
    await vi.advanceTimersByTimeAsync(STALLED_MS - 1);
    await first.next();
    await vi.advanceTimersByTimeAsync(STALLED_MS - 1);
    // The other two were never read.
    expect(closed).toBe(2);
    await first.next();
    await vi.advanceTimersByTimeAsync(STALLED_MS);
    expect(closed).toBe(3);
    await expect(first.next()).rejects.toThrow();
    for (let i = 0; i < 3; i++) await start();
  });
});
