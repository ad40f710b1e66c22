import type { LiveFrame } from '../../server/api/contract/live.ts';
import type { LiveState } from '../../server/api/contract/live-state.ts';
import { accessKey } from './access-key.ts';
import { call } from './call.ts';
import { clockOffsetMs, connection, live, refetchVersion, tellReadings } from './live-store.ts';
import { ServiceProblem } from './request.ts';
import { ticketQuery } from './ticket.ts';

/** State frames come 4 times a second: this long without any frame and the connection counts as dead. */
const SILENCE_MS = 4000;
const RETRY_FIRST_MS = 500;
const RETRY_MOST_MS = 5000;

/** Keeps the page connected to the service for as long as it is open: connects, notices silence, tries again. */
export function startLiveConnection(): void {
  let socket: WebSocket | null = null;
  /** The trial that is under way: a newer one puts it aside, so that there is never more than one socket. */
  let trial: AbortController | null = null;
  let lastFrameAt = performance.now();
  let retryMs = RETRY_FIRST_MS;
  let timer: ReturnType<typeof setTimeout> | undefined;

  const lose = () => {
    socket?.close();
    socket = null;
    // Lost since the last that was heard, not since it was noticed.
    const sinceMs = Date.now() - (performance.now() - lastFrameAt);
    if (connection.peek().phase !== 'lost') connection.value = { phase: 'lost', sinceMs };
    clearTimeout(timer);
    timer = setTimeout(connect, retryMs);
    retryMs = Math.min(retryMs * 1.7, RETRY_MOST_MS);
  };

  const takeState = (state: LiveState) => {
    clockOffsetMs.value = state.serverTimeMs - Date.now();
    const before = live.peek() ?? state;
    live.value = state;
    if (before.boot !== state.boot || before.spoolBoundsRevision !== state.spoolBoundsRevision)
      refetchVersion.value += 1;
  };

  const connect = async () => {
    if (socket !== null) return;
    clearTimeout(timer);
    trial?.abort();
    const mine = new AbortController();
    trial = mine;
    const giveUp = setTimeout(() => mine.abort(), SILENCE_MS);
    let query: URLSearchParams;
    try {
      // The first question goes over HTTP: a refused WebSocket does not tell why, a refused request does.
      const state = await call('GET /api/state', { signal: mine.signal });
      query = new URLSearchParams(await ticketQuery('/live', mine.signal));
      if (trial !== mine) return;
      trial = null;
      takeState(state);
    } catch (thrown) {
      if (trial !== mine) return;
      trial = null;
      // Refused: it goes on when a key is given.
      if (!(thrown instanceof ServiceProblem && thrown.status === 401)) lose();
      return;
    } finally {
      clearTimeout(giveUp);
    }
    const scheme = location.protocol === 'https:' ? 'wss' : 'ws';
    const opened = new WebSocket(`${scheme}://${location.host}/live${String(query) === '' ? '' : `?${query}`}`);
    socket = opened;
    lastFrameAt = performance.now();
    opened.onmessage = (event) => {
      if (socket !== opened) return;
      lastFrameAt = performance.now();
      const frame = JSON.parse(String(event.data)) as LiveFrame;
      if (frame.kind === 'readings') {
        tellReadings(frame);
      } else if (frame.kind === 'state') {
        if (connection.peek().phase !== 'open') {
          if (connection.peek().phase === 'lost') refetchVersion.value += 1;
          connection.value = { phase: 'open', sinceMs: Date.now() };
          retryMs = RETRY_FIRST_MS;
        }
        takeState(frame.state);
      } else {
        refetchVersion.value += 1;
      }
    };
    opened.onclose = () => {
      if (socket === opened) lose();
    };
  };

  setInterval(() => {
    if (socket !== null && performance.now() - lastFrameAt > SILENCE_MS) lose();
  }, 1000);
  // A laptop that wakes, or a phone that finds its network again, should not wait for the pause to pass.
  addEventListener('online', () => {
    if (connection.peek().phase === 'lost') void connect();
  });
  let first = true;
  accessKey.subscribe(() => {
    if (!first) void connect();
    first = false;
  });
  void connect();
}
