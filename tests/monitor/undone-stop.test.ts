import { afterEach, beforeEach, expect, it } from 'vitest';
import { MonotonicClock } from '../../server/monitor/clock.ts';
import { type WatchedLine, watchLine } from './watched-line.ts';

const HZ = 20;
const SPEED_MM_PER_S = 20;

let line: WatchedLine;
let lines: number;

beforeEach(() => {
  lines = 0;
  const settings = { settleLengthMm: 1000, gaugeToWinderMm: 500, stopAfterMin: 60 };
  line = watchLine(settings, {}, new MonotonicClock(), (store) => store.columns, 60_000);
  feed(300);
});
afterEach(() => line.remove());

function feed(seconds: number, blob = false): void {
  for (let i = 0; i < seconds * HZ; i++) {
    lines += 1;
    const d = (blob && i > 10 && i < 16 ? 2.2 : 1.75) + 0.004 * Math.sin(lines * 12.9898);
    line.feed(`ms=${lines * (1000 / HZ)} n=${lines} d=${d.toFixed(3)} v=20 len=${(lines * SPEED_MM_PER_S) / HZ}\n`);
  }
}

const spools = () => line.store.reader.spools(1);
const runEndedMs = () => line.store.reader.run(1)?.endedMs;

it('continues the same spool of the same run, with all strand since and the same alarms', () => {
  feed(10, true);
  const before = line.monitor.snapshot();
  expect(before.alarms.map(({ type }) => type)).toEqual(['blob']);
  line.monitor.setStage('stopped', 'Ada');
  expect(line.monitor.snapshot().spool).toBeNull();
  feed(40);
  expect(runEndedMs()).toBeNull();
  line.monitor.continueSpool('Ada');
  feed(5);
  const { stage, run, spool, alarms, sections } = line.monitor.snapshot();
  expect(stage).toMatchObject({ stage: 'winding', setByUser: false });
  expect([run, spool]).toEqual([before.run, before.spool]);
  expect(alarms.map(({ id }) => id)).toEqual(before.alarms.map(({ id }) => id));
  expect(sections.map(({ kind }) => kind)).toEqual(['blob']);
  expect(spools()).toHaveLength(1);
  expect(line.monitor.woundMm(spool!)).toBeCloseTo((lines * SPEED_MM_PER_S) / HZ - 500 - spool!.startGaugeMm, -2);
});

it('is final after a minute', () => {
  line.monitor.setStage('stopped', 'Ada');
  feed(59);
  expect(runEndedMs()).toBeNull();
  feed(2);
  expect(runEndedMs()).toBeGreaterThan(0);
  expect(() => line.monitor.continueSpool('Ada')).toThrow('No spool of this run');
});
