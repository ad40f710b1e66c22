import { describe, expect, test } from 'vitest';
import type { AlarmChange, AlarmType } from '../../server/alarm/alarm.ts';
import { AlarmEngine } from '../../server/alarm/alarm-engine.ts';
import { alarmFigures } from '../../server/alarm/alarm-figures.ts';
import { catalogueWith } from '../../server/alarm/alarm-settings.ts';
import { CALM_FIGURES } from './calm-figures.ts';

/*
 * EEMUA 191 and ISA-18.2 as quoted by several trade articles: flood = more than 10 alarms in 10 minutes; chattering = active to
 * clear at least 3 times in 1 minute; stale = active for more than 24 hours; about 1 alarm in 10 minutes is acceptable. That a
 * flood ends below 5 in 10 minutes: ISA-18.2, from memory. Fleeting: "a few seconds", cleared without the operator, does not
 * immediately repeat; the 5 s are our own.
 */
const MIN = 60_000;
const HOUR = 60 * MIN;

/** Drives a real engine, and keeps its journal. */
class Night {
  readonly engine = new AlarmEngine({ standing: [], lastId: 0, catalogue: catalogueWith({ neck: { offDelayS: 2 } }) });
  readonly journal: AlarmChange[] = [];

  set(type: AlarmType, active: boolean, timeMs: number, occurrence?: number): this {
    const condition = { type, subject: '', active, facts: {}, ...(occurrence === undefined ? {} : { occurrence }) };
    this.journal.push(...this.engine.observe(condition, timeMs), ...this.engine.tick(timeMs));
    return this;
  }

  pass(timeMs: number): this {
    this.journal.push(...this.engine.tick(timeMs));
    return this;
  }

  acknowledge(timeMs: number): this {
    this.journal.push(...this.engine.acknowledgeAll({ name: 'Ada', from: null }, timeMs));
    return this;
  }

  figures(toMs: number) {
    return alarmFigures(this.journal, 0, toMs);
  }
}
const blobsAt = (times: readonly number[]) => {
  const night = new Night();
  times.forEach((time, i) => void night.set('blob', true, time, i + 1));
  return night;
};

test('counts nothing in a quiet night', () => {
  expect(alarmFigures([], 0, 8 * HOUR)).toEqual(CALM_FIGURES);
});

describe('rate', () => {
  test('48 alarms in 8 hours are one in 10 minutes, and each blob counts', () => {
    const { alarms, perTenMin, frequent } = blobsAt(Array.from({ length: 48 }, (_, i) => i * 10 * MIN + 1)).figures(
      8 * HOUR,
    );
    expect([alarms, perTenMin]).toEqual([48, 1]);
    expect(frequent).toEqual([{ type: 'blob', subject: '', count: 48 }]);
  });

  test('gives no rate for a run shorter than 10 minutes', () => {
    expect(blobsAt([1000]).figures(5 * MIN).perTenMin).toBeNull();
  });

  test('finds the peak wherever its ten minutes start', () => {
    const times = [0, 9, 9.5, 10.5, 11, 12, 30].map((min) => min * MIN + 1);
    expect(blobsAt(times).figures(HOUR).peakPerTenMin).toBe(5);
  });

  test('counts alarms by priority', () => {
    const night = blobsAt([1000, 2000]).set('neck', true, 3000, 1).set('deviceRestarted', true, 4000, 1);
    expect(night.figures(HOUR).byPriority).toEqual({ high: 2, medium: 1, low: 1 });
  });
});

describe('flood', () => {
  const every = (seconds: number, n: number, fromMs = 0) =>
    Array.from({ length: n }, (_, i) => fromMs + i * seconds * 1000);

  test('is 11 in 10 minutes, not 10', () => {
    expect(blobsAt(every(30, 10)).figures(HOUR).floods).toEqual([]);
    expect(blobsAt(every(30, 11)).figures(HOUR).floods).toHaveLength(1);
    // The eleventh comes just as the first leaves the window.
    expect(blobsAt(every(60, 11)).figures(HOUR).floods).toEqual([]);
  });

  test('starts with its first call and lasts until fewer than 5 come in 10 minutes', () => {
    const { floods, floodShare } = blobsAt(every(30, 20)).figures(100 * MIN);
    // The sixteenth call (at 7.5 min) leaves the window at 17.5 min: four are left.
    expect(floods).toEqual([{ fromMs: 0, toMs: 17.5 * MIN, alarms: 20 }]);
    expect(floodShare).toBeCloseTo(0.175, 10);
  });

  test('counts two bursts an hour apart as two floods; one in progress ends with the journal', () => {
    const times = [...every(20, 12), ...every(20, 15, 80 * MIN)];
    const { floods } = blobsAt(times).figures(85 * MIN);
    expect(floods.map(({ fromMs, alarms }) => [fromMs / MIN, alarms])).toEqual([
      [0, 12],
      [80, 15],
    ]);
    expect(floods[1]?.toMs).toBe(85 * MIN);
  });
});

describe('chattering, fleeting, stale', () => {
  test('active to clear three times in a minute is chattering; two times is not', () => {
    const chatter = (times: number) => {
      const night = new Night();
      for (let i = 0; i < times; i++) {
        const t = i * 15_000;
        night
          .set('neck', true, t, i + 1)
          .set('neck', false, t + 3000)
          .pass(t + 6000);
      }
      return night.figures(HOUR).chattering;
    };
    expect(chatter(2)).toEqual([]);
    expect(chatter(3)).toEqual([{ type: 'neck', subject: '', count: 3 }]);
    expect(chatter(9)).toEqual([{ type: 'neck', subject: '', count: 4 }]);
  });

  test('gone after 3 s is fleeting, whatever the off-delay; after 8 s, acknowledged in time, or back at once it is not', () => {
    const one = (build: (night: Night) => void) => {
      const night = new Night();
      build(night);
      return night.figures(HOUR).fleeting;
    };
    const gone = (night: Night, afterMs: number) => night.set('lineSilent', true, 0).set('lineSilent', false, afterMs);
    expect(one((n) => gone(n, 3000).pass(60_000))).toEqual([{ type: 'lineSilent', subject: '', count: 1 }]);
    expect(one((n) => gone(n, 8000).pass(60_000))).toEqual([]);
    expect(
      one((n) => n.set('lineSilent', true, 0).acknowledge(1000).set('lineSilent', false, 3000).pass(60_000)),
    ).toEqual([]);
    expect(one((n) => gone(n, 3000).pass(60_000).set('lineSilent', true, 90_000))).toEqual([]);
  });

  test('active for more than a day is stale, acknowledged or not', () => {
    const night = new Night().set('recordFailing', true, 0).set('recordFailing', true, 3000).acknowledge(HOUR);
    expect(night.figures(24 * HOUR).stale).toEqual([]);
    expect(night.figures(25 * HOUR).stale).toEqual([{ type: 'recordFailing', subject: '', forMs: 25 * HOUR - 3000 }]);
    night.set('recordFailing', false, 20 * HOUR).pass(20 * HOUR + MIN);
    expect(night.figures(30 * HOUR).stale).toEqual([]);
  });
});

test('gives the median time to an acknowledgement, and counts unanswered alarms', () => {
  const night = new Night()
    .set('blob', true, 0, 1)
    .acknowledge(20_000)
    .set('blob', true, 60_000, 2)
    .acknowledge(100_000);
  night.set('recordFailing', true, 200_000).set('recordFailing', true, 203_000);
  const { medianAnswerMs, unanswered } = night.figures(HOUR);
  expect(medianAnswerMs).toBe(30_000);
  expect(unanswered).toBe(1);
});

test('does not count suppression by design as a call', () => {
  const night = new Night();
  night.engine.setStage('purging');
  for (let n = 1; n <= 30; n++) night.set('blob', true, n * 1000, n);
  expect(night.journal).toHaveLength(1);
  expect(night.figures(HOUR)).toMatchObject({ alarms: 0, floods: [], unanswered: 0 });
});
