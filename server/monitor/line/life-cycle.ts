/**
 * The life cycle of a monitor. Before `open` nothing is read. Before `watching` no timer runs and the source is not started;
 * only what users state is written, and the end of a run that cannot go on.
 *
 *   made ── open ──▸ open ── start ──▸ watching ── stop ──▸ stopping ── end ──▸ stopped
 *                      ▴ │               ▴ │                    ▴
 *                connect disconnect connect disconnect          │ stop
 *                      │ ▾               │ ▾                    │
 *                      reconnecting ────────────────────────────┘
 */
export type LifeState =
  | { readonly is: 'made' }
  /** The record has been read and requests are answered, but the source has not been started. */
  | { readonly is: 'open' }
  | { readonly is: 'watching' }
  /** The old link is being closed. `watching` = the new one is started at once. */
  | { readonly is: 'reconnecting'; readonly watching: boolean }
  /** The link is being closed and pending data written. */
  | { readonly is: 'stopping' }
  | { readonly is: 'stopped' };

export const LIFE_EVENTS = ['open', 'start', 'disconnect', 'connect', 'stop', 'end'] as const;
export type LifeEvent = (typeof LIFE_EVENTS)[number];

type Next = (state: LifeState) => LifeState;

const to =
  (next: LifeState): Next =>
  () =>
    next;
const STOP = to({ is: 'stopping' });

/** Transitions that are not listed are not possible. */
const TRANSITIONS: Readonly<Record<LifeState['is'], Readonly<Partial<Record<LifeEvent, Next>>>>> = {
  made: { open: to({ is: 'open' }), stop: to({ is: 'stopped' }) },
  open: {
    start: to({ is: 'watching' }),
    disconnect: to({ is: 'reconnecting', watching: false }),
    stop: STOP,
  },
  watching: { disconnect: to({ is: 'reconnecting', watching: true }), stop: STOP },
  reconnecting: {
    start: to({ is: 'reconnecting', watching: true }),
    connect: (state) => ({ is: state.is === 'reconnecting' && state.watching ? 'watching' : 'open' }),
    stop: STOP,
  },
  stopping: { end: to({ is: 'stopped' }) },
  // A second stop writes what users stated after the first one.
  stopped: { stop: STOP },
};

/** The state after an event; null = the event is not possible. */
export function nextLife(state: LifeState, event: LifeEvent): LifeState | null {
  return TRANSITIONS[state.is][event]?.(state) ?? null;
}

/** Nothing new may be started. */
export function isOver({ is }: LifeState): boolean {
  return is === 'stopping' || is === 'stopped';
}
