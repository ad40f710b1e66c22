import { computed, signal } from '@preact/signals';
import { SILENT_AFTER_S } from '../../server/alarm/conditions.ts';
import type { ReadingsFrame } from '../../server/api/contract/live.ts';
import type { LiveState } from '../../server/api/contract/live-state.ts';

export interface Connection {
  readonly phase: 'connecting' | 'open' | 'lost';
  /** When the phase began, by this browser's clock. */
  readonly sinceMs: number;
}

/** The newest state of the line; kept while the connection is lost, so that the page can show it as old. */
export const live = signal<LiveState | null>(null);
export const connection = signal<Connection>({ phase: 'connecting', sinceMs: Date.now() });

/** Server clock minus the browser's, ms. */
export const clockOffsetMs = signal(0);

/** Rises when everything fetched must be fetched anew: the service restarted, or frames were left out. */
export const refetchVersion = signal(0);

/** A second hand for "since" and "ago", by the server's clock. */
const tick = signal(0);
setInterval(() => {
  tick.value += 1;
}, 1000);
export const nowMs = computed(() => {
  tick.value;
  return Date.now() + clockOffsetMs.value;
});

/** Now, as the line's own times are told: in a replay or a fast simulation what its readings say. */
export const lineNowMs = computed(() => {
  const state = live.value;
  return state?.link.timing === 'recorded' ? (state.now.timeMs ?? nowMs.value) : nowMs.value;
});

/**
 * How old what the page shows is, ms; null = it is of now. Old is the last word of a service that is out of reach, and
 * that of a line that sends no more.
 */
export const oldForMs = computed(() => {
  const link = live.value?.link;
  const silentMs = link?.timing === 'live' && link.silentForS !== null ? link.silentForS * 1000 : 0;
  if (connection.value.phase === 'lost') {
    tick.value;
    return Date.now() - connection.value.sinceMs + silentMs;
  }
  return silentMs >= SILENT_AFTER_S * 1000 ? silentMs : null;
});

type Listener = (frame: ReadingsFrame) => void;
const listeners = new Set<Listener>();

/** Hear every frame of readings; returns how to stop. */
export function onReadings(listener: Listener): () => void {
  listeners.add(listener);
  return () => listeners.delete(listener);
}

export function tellReadings(frame: ReadingsFrame): void {
  for (const listener of listeners) listener(frame);
}
