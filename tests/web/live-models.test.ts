import { describe, expect, it } from 'vitest';
import type { AlarmView } from '../../server/api/contract/alarms.ts';
import type { ReadingsFrame } from '../../server/api/contract/live.ts';
import type { ZoneView } from '../../server/api/contract/live-state.ts';
import { routeOf } from '../../server/entities/page-route.ts';
import { lossSounds, mostUrgent, newlyRaised } from '../../web/alerting/alarm-events.ts';
import { diameterStatus } from '../../web/live/diameter-status.ts';
import { ZoneHistory, zoneRanges } from '../../web/live/zone-history.ts';

const alarm = (part: Partial<AlarmView>) =>
  ({ id: 1, priority: 'high', state: 'unacknowledged', occurrences: 1, ...part }) as AlarmView;

describe('alarms to sound', () => {
  it('are new or recurring ones, not answered or continuing ones', () => {
    const old = [alarm({ id: 1 }), alarm({ id: 2 })];
    expect(
      newlyRaised(old, [alarm({ id: 1 }), alarm({ id: 2, occurrences: 2 }), alarm({ id: 3 })]).map((a) => a.id),
    ).toEqual([2, 3]);
    expect(newlyRaised([], [alarm({ state: 'acknowledged' })])).toEqual([]);
    expect(newlyRaised([], [alarm({ state: 'returnedUnacknowledged' })])).toHaveLength(1);
  });

  it('have the most urgent one first', () => {
    expect(mostUrgent([alarm({ id: 1, priority: 'low' }), alarm({ id: 2, priority: 'high' })])?.id).toBe(2);
    expect(mostUrgent([])).toBeUndefined();
  });

  it('include a lost connection after ten seconds, then every twenty, whatever sounded before', () => {
    const lostMs = 1_000_000;
    const soundedMs: number[] = [];
    for (let ms = lostMs; ms <= lostMs + 60_000; ms += 1000) {
      // Another loss has sounded just before this one.
      if (lossSounds(lostMs, soundedMs.at(-1) ?? lostMs - 1000, ms)) soundedMs.push(ms);
    }
    expect(soundedMs.map((ms) => (ms - lostMs) / 1000)).toEqual([10, 30, 50]);
  });
});

describe('the status of a diameter', () => {
  const limits = {
    nominalMm: 1.75,
    toleranceMm: 0.05,
    hotendLimitMm: 1.9,
    smallestFeedableMm: 1.6,
    strandPresentMm: 0.5,
  };
  it.each([
    [1.75, 'in tolerance', 'ok'],
    [1.8, 'in tolerance', 'ok'],
    [1.81, 'out of tolerance', 'abnormal'],
    [1.95, 'above the hotend limit', 'danger'],
    [1.55, 'below the smallest feedable', 'abnormal'],
    [0.5, 'below the smallest feedable', 'abnormal'],
    [0.499, 'no strand', 'danger'],
    [0, 'no strand', 'danger'],
    [null, 'no value', 'ok'],
  ] as const)('%s mm is %s', (mm, text, tone) => {
    expect(diameterStatus(mm, limits, true)).toEqual({ text, tone });
  });

  it('follows the set diameter below which there is no strand', () => {
    expect(diameterStatus(0.9, { ...limits, strandPresentMm: 1 }, true).text).toBe('no strand');
    expect(diameterStatus(0.4, { ...limits, strandPresentMm: 0.3 }, true).text).toBe('below the smallest feedable');
  });

  it('is not red while no strand is due', () => {
    expect(diameterStatus(0.002, limits, false)).toEqual({ text: 'no strand', tone: 'ok' });
  });
});

function frame(timeMs: number[], t: (number | null)[]): ReadingsFrame {
  const none = timeMs.map(() => null);
  return {
    kind: 'readings',
    runId: 1,
    timeMs,
    gaugeMm: timeMs,
    diameterMm: none,
    speedMmPerS: none,
    zones: [{ zone: 1, temperatureC: t, setpointC: timeMs.map(() => 200), power: none }],
  };
}

describe('the last minutes of a zone', () => {
  it('keep the last value of each second', () => {
    const history = new ZoneHistory(60);
    history.hear(frame([1000, 1500, 1990, 2000], [190, 191, 192, 193]));
    expect(history.trace(1, 2500)).toEqual({ timeS: [1, 2], temperatureC: [192, 193], setpointC: [200, 200] });
  });

  it('show a pause as a gap, and drop older values', () => {
    const history = new ZoneHistory(60);
    history.hear(frame([1000, 20_000], [190, 191]));
    expect(history.trace(1, 20_000).temperatureC).toEqual([190, null, 191]);
    expect(history.trace(1, 75_000).temperatureC).toEqual([191]);
  });

  it('forget later times when the clock steps back, so that a page left open stays small', () => {
    const history = new ZoneHistory(60);
    const zone = { zone: 1, expectedLowC: 180, expectedHighC: 200 } as ZoneView;
    for (let s = 0; s < 300; s += 1) {
      const timeMs = 1e9 - Math.floor(s / 50) * 1e6 + s * 1000;
      history.hear(frame([timeMs], [190]));
      history.expect(zone, timeMs);
    }
    const nowMs = 1e9 - 5e6 + 299_000;
    expect(history.trace(1, nowMs).timeS).toHaveLength(50);
    expect(history.expected(1).timeS).toHaveLength(25);
    expect(history.trace(1, 1e9 + 49_000).timeS).toEqual([]);
  });

  it('share one scale: close while all zones hold, from cold while one heats', () => {
    const hold = [
      { zone: 1, temperatureC: 175.2, setpointC: 175 },
      { zone: 2, temperatureC: 199, setpointC: 200 },
    ];
    const close = zoneRanges(hold, new Map());
    expect(close.get(1)).toEqual([155, 195]);
    expect(close.get(2)).toEqual([180, 220]);
    const wide = zoneRanges([{ ...hold[0]!, temperatureC: 60 }, hold[1]!], new Map());
    expect(wide.get(1)).toEqual(wide.get(2));
    expect(wide.get(1)?.[0]).toBe(0);
  });
});

describe('addresses of the pages', () => {
  it.each([
    ['/', { page: 'live' }],
    ['/spool', { page: 'spool', id: null }],
    ['/spool/12', { page: 'spool', id: 12 }],
    ['/runs/3/', { page: 'run', id: 3 }],
    ['/wall', { page: 'wall' }],
    ['/runs/x', { page: 'unknown' }],
    ['/a/b/c', { page: 'unknown' }],
  ])('%s', (path, route) => {
    expect(routeOf(path)).toEqual(route);
  });
});
