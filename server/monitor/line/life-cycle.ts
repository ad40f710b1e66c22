/**
 * The life of a monitor. Between `made` and `open` nothing is read, and before `watching` nothing is timed, written or
 * listened to.
 *
 *   made ── open ──▸ open ── start ──▸ watching ── stop ──▸ stopping ── end ──▸ stopped
 *                      ▴ │               ▴ │                    ▴
 *                connect disconnect connect disconnect          │ stop
 *                      │ ▾               │ ▾                    │
 *                      reconnecting ────────────────────────────┘
 */
export type LifeState =
  | { readonly is: 'made' }
  /** The record has been read. People are answered, but the source has not been started. */
  | { readonly is: 'open' }
  | { readonly is: 'watching' }
  /** The old link is being closed to make way for another one. `watching`: the new link is started at once. */
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

/** What is not here does not exist. */
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
  // What people say after the end is still written: a second stop writes it out.
  stopped: { stop: STOP },
};

/** The state after an event; null where the event is not possible. */
export function nextLife(state: LifeState, event: LifeEvent): LifeState | null {
  return TRANSITIONS[state.is][event]?.(state) ?? null;
}

/** Nothing new may be begun. */
export function isOver({ is }: LifeState): boolean {
  return is === 'stopping' || is === 'stopped';
}
