import { afterEach, describe, expect, it } from 'vitest';
import type { LineSettings } from '../../server/settings/line-settings.ts';
import { type WatchedLine, watchLine } from './watched-line.ts';

let line: WatchedLine | null = null;
afterEach(async () => {
  await line?.remove();
  line = null;
});

describe('a frozen gauge', () => {
  // One setting for each part that a change affects: strand limits, set speed, path, reading rules.
  it.each<[string, Partial<LineSettings>]>([
    ['the name of the line', { lineName: 'Bench 2' }],
    ['the tolerance', { toleranceMm: 0.04 }],
    ['the diameter below which no strand is seen', { strandPresentMm: 0.4 }],
    ['the set speed', { setSpeedMmPerS: 21 }],
    ['the path to the winder', { gaugeToWinderMm: 1500 }],
    ['the names of columns', { columnNames: ['ms', 'd', 'v'] }],
  ])('stays frozen after a change of %s, and its alarm neither ends nor is raised again', async (_, change) => {
    const watched = watchLine({ settleLengthMm: 1000 });
    line = watched;
    let ms = 0;
    const feed = (seconds: number, d: (i: number) => number) => {
      for (const end = ms + seconds * 1000; ms < end; ms += 100) watched.feed(`ms=${ms} d=${d(ms / 100)} v=20\n`);
    };
    const steps = () =>
      watched.store.reader.alarmJournal(1).flatMap(({ alarm, step }) => (alarm.type === 'gaugeFrozen' ? [step] : []));
    feed(60, (i) => 1.75 + (i % 7) * 0.001);
    feed(20, () => 1.753);
    expect(steps()).toEqual(['raised']);

    await watched.monitor.applySettings(change, 'Ada');
    feed(90, () => 1.753);
    expect(steps()).toEqual(['raised']);
    expect(watched.monitor.snapshot().alarms.map(({ type, state }) => [type, state])).toContainEqual([
      'gaugeFrozen',
      'unacknowledged',
    ]);
    const unmeasured = watched.monitor.measuredSections(1).filter(({ kind }) => kind === 'unknown');
    expect(unmeasured.map(({ fromMm, toMm }) => toMm - fromMm > 20 * 105)).toEqual([true]);
  });
});
