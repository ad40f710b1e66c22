import type { LiveFrame } from '../../server/api/contract/live.ts';
import type { LiveState } from '../../server/api/contract/live-state.ts';
import { call } from './call.ts';
import { clockOffsetMs, connection, live, publishReadings, refetchVersion } from './live-store.ts';
import { ServiceProblem } from './request.ts';
import { me } from './session.ts';

/** State frames arrive 4 times a second. After this long without a frame the connection counts as lost. */
const SILENCE_MS = 4000;
const RETRY_FIRST_MS = 500;
const RETRY_MOST_MS = 5000;

/** Keeps the page connected to the service: connects, detects silence, and tries again. */
export function startLiveConnection(): void {
  let socket: WebSocket | null = null;
  /** The pending attempt. A newer one replaces it, so that there is never more than one socket. */
  let trial: AbortController | null = null;
  let lastFrameAt = performance.now();
  let retryMs = RETRY_FIRST_MS;
  let timer: ReturnType<typeof setTimeout> | undefined;

  const lose = () => {
    socket?.close();
    socket = null;
    // Lost since the last frame, not since it was detected.
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
    try {
      // The first request goes over HTTP: unlike a refused WebSocket, a refused request has a reason.
      const state = await call('GET /api/state', { signal: mine.signal });
      me.value = await call('GET /api/me', { signal: mine.signal });
      if (trial !== mine) return;
      trial = null;
      takeState(state);
    } catch (thrown) {
      if (trial !== mine) return;
      trial = null;
      if (!(thrown instanceof ServiceProblem && thrown.status === 401)) lose();
      // Not paired, or not any more, which is no lost connection to warn about. Pairing loads the page again.
      else connection.value = { phase: 'connecting', sinceMs: Date.now() };
      return;
    } finally {
      clearTimeout(giveUp);
    }
    const scheme = location.protocol === 'https:' ? 'wss' : 'ws';
    const opened = new WebSocket(`${scheme}://${location.host}/live`);
    socket = opened;
    lastFrameAt = performance.now();
    opened.onmessage = (event) => {
      if (socket !== opened) return;
      lastFrameAt = performance.now();
      const frame = JSON.parse(String(event.data)) as LiveFrame;
      if (frame.kind === 'readings') {
        publishReadings(frame);
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
  void connect();
}
