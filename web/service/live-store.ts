import { computed, signal } from '@preact/signals';
import { SILENT_AFTER_S } from '../../server/alarm/conditions.ts';
import type { ReadingsFrame } from '../../server/api/contract/live.ts';
import type { LiveState } from '../../server/api/contract/live-state.ts';
import { pageData } from './page-data.ts';

export interface Connection {
  readonly phase: 'connecting' | 'open' | 'lost';
  /** When the phase began, by this browser's clock. */
  readonly sinceMs: number;
}

/**
 * The latest state of the line; kept while the connection is lost, so that the page can show it as old. It starts with the
 * one that came with the page.
 */
export const live = signal<LiveState | null>(pageData<LiveState>('state'));
export const connection = signal<Connection>({ phase: 'connecting', sinceMs: Date.now() });

/** Server clock minus the browser's, ms. */
export const clockOffsetMs = signal(0);

/** Rises when everything must be fetched again: the service restarted, or frames were missed. */
export const refetchVersion = signal(0);

/** Ticks every second, for "since" and "ago". */
const tick = signal(0);
// The frames of the pages are built without a browser, where nothing ticks.
if (globalThis.document)
  setInterval(() => {
    tick.value += 1;
  }, 1000);
export const nowMs = computed(() => {
  tick.value;
  return Date.now() + clockOffsetMs.value;
});

/** The current time of the line: in a replay or a fast simulation, the time of its readings. */
export const lineNowMs = computed(() => {
  const state = live.value;
  return state?.link.timing === 'recorded' ? (state.now.timeMs ?? nowMs.value) : nowMs.value;
});

/**
 * The age of the shown state, ms; null = current. It ages while the service cannot be reached, or while the line sends
 * nothing.
 */
export const staleForMs = computed(() => {
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

/** Calls the listener with every frame of readings; returns a function that stops it. */
export function onReadings(listener: Listener): () => void {
  listeners.add(listener);
  return () => listeners.delete(listener);
}

export function publishReadings(frame: ReadingsFrame): void {
  for (const listener of listeners) listener(frame);
}
