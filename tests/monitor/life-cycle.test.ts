import { describe, expect, it } from 'vitest';
import { isOver, LIFE_EVENTS, type LifeEvent, type LifeState, nextLife } from '../../server/monitor/line/life-cycle.ts';

/** The next state for each state and event; events that are left out are not possible. */
const TABLE: [LifeState, Partial<Record<LifeEvent, LifeState>>][] = [
  [{ is: 'made' }, { open: { is: 'open' }, stop: { is: 'stopped' } }],
  [
    { is: 'open' },
    {
      start: { is: 'watching' },
      disconnect: { is: 'reconnecting', watching: false },
      stop: { is: 'stopping' },
    },
  ],
  [{ is: 'watching' }, { disconnect: { is: 'reconnecting', watching: true }, stop: { is: 'stopping' } }],
  [
    { is: 'reconnecting', watching: true },
    { start: { is: 'reconnecting', watching: true }, connect: { is: 'watching' }, stop: { is: 'stopping' } },
  ],
  [
    { is: 'reconnecting', watching: false },
    { start: { is: 'reconnecting', watching: true }, connect: { is: 'open' }, stop: { is: 'stopping' } },
  ],
  [{ is: 'stopping' }, { end: { is: 'stopped' } }],
  [{ is: 'stopped' }, { stop: { is: 'stopping' } }],
];

describe('the life cycle of a monitor', () => {
  const cases = TABLE.flatMap(([state, events]) => LIFE_EVENTS.map((event) => ({ state, event, next: events[event] })));

  it.each(cases)('goes from $state by $event to $next', ({ state, event, next }) => {
    expect(nextLife(state, event)).toEqual(next ?? null);
  });

  it('does not reconnect while stopping', () => {
    const stopping: LifeState = { is: 'stopping' };
    expect(nextLife({ is: 'reconnecting', watching: true }, 'stop')).toEqual(stopping);
    expect(isOver(stopping)).toBe(true);
    expect(nextLife(stopping, 'connect')).toBe(null);
  });

  it('is over only while stopping and when stopped', () => {
    expect(TABLE.filter(([state]) => isOver(state)).map(([{ is }]) => is)).toEqual(['stopping', 'stopped']);
  });
});
