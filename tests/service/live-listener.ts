import WebSocket from 'ws';
import type { LiveFrame } from '../../server/api/contract/live.ts';
import type { LiveState } from '../../server/api/contract/live-state.ts';

interface HeardFrame {
  readonly frame: LiveFrame;
  /** On this process's monotonic clock, ms. */
  readonly atMs: number;
}

/** A client of the live feed. */
export interface LiveListener {
  readonly frames: readonly HeardFrame[];
  /** The first frame, from now or from before, that satisfies. */
  frame(satisfies: (frame: LiveFrame) => boolean, what: string, withinMs?: number): Promise<HeardFrame>;
  /** The first state, from now or from before, that satisfies. */
  state(
    satisfies: (state: LiveState) => boolean,
    what: string,
    withinMs?: number,
  ): Promise<LiveState & { atMs: number }>;
  /** Forgets all frames received so far. */
  forget(): void;
  close(): void;
  /** Stops reading from the network, like a phone in a tunnel. */
  stall(): void;
  resume(): void;
}

/** One that is not answered at all must not keep its test waiting. */
const OPENED_WITHIN_MS = 20_000;

/** @param address of the service: http://127.0.0.1:1234 */
export async function listenLive(address: string, query = ''): Promise<LiveListener> {
  const socket = new WebSocket(`${address.replace(/^http/, 'ws')}/live${query}`, {
    handshakeTimeout: OPENED_WITHIN_MS,
  });
  let frames: HeardFrame[] = [];
  const wakes = new Set<() => void>();
  socket.on('message', (data) => {
    frames.push({ frame: JSON.parse(String(data)) as LiveFrame, atMs: performance.now() });
    for (const wake of wakes) wake();
  });
  await new Promise<void>((resolve, reject) => {
    socket.once('open', resolve);
    socket.once('error', reject);
    socket.once('unexpected-response', (_request, reply) => reject(new Error(`refused with ${reply.statusCode}`)));
  });
  socket.on('error', () => {});

  const frame: LiveListener['frame'] = async (satisfies, what, withinMs = 10_000) => {
    const deadline = performance.now() + withinMs;
    let seen = 0;
    for (;;) {
      for (; seen < frames.length; seen++) if (satisfies(frames[seen]!.frame)) return frames[seen]!;
      const left = deadline - performance.now();
      if (left <= 0) throw new Error(`Not heard within ${withinMs} ms: ${what}`);
      await new Promise<void>((resolve) => {
        const timer = setTimeout(resolve, left);
        const wake = () => {
          clearTimeout(timer);
          wakes.delete(wake);
          resolve();
        };
        wakes.add(wake);
      });
      seen = Math.min(seen, frames.length);
    }
  };
  return {
    get frames() {
      return frames;
    },
    frame,
    state: async (satisfies, what, withinMs) => {
      const heard = await frame((one) => one.kind === 'state' && satisfies(one.state), what, withinMs);
      if (heard.frame.kind !== 'state') throw new Error('unreachable');
      return { ...heard.frame.state, atMs: heard.atMs };
    },
    forget: () => {
      frames = [];
    },
    close: () => socket.terminate(),
    stall: () => socket.pause(),
    resume: () => socket.resume(),
  };
}
