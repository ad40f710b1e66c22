import { afterEach, describe, expect, it } from 'vitest';
import { type WatchedLine, watchLine } from './watched-line.ts';

let line: WatchedLine;
let lines = 0;
let len = 0;
afterEach(() => line.remove());

function watch(...settings: Parameters<typeof watchLine>): void {
  lines = 0;
  len = 0;
  line = watchLine(...settings);
}

interface Fed {
  readonly d: number | 'nan';
  readonly v: number;
  readonly also?: string;
}

/** 20 readings a second. */
function feed(seconds: number, { d, v, also = '' }: Fed): void {
  for (let i = 0; i < seconds * 20; i++) {
    lines += 1;
    len += v / 20;
    const diameter = d === 'nan' ? d : (d + 0.004 * Math.sin(lines * 12.9898)).toFixed(3);
    line.feed(`ms=${lines * 50} n=${lines} d=${diameter} v=${v} len=${len.toFixed(2)} ${also}\n`);
  }
}

const raised = (runId: number | null) =>
  line.store.reader.alarmJournal(runId).flatMap(({ alarm, step }) => (step === 'raised' ? [alarm.type] : []));

describe('the end of an evening', () => {
  it('is no alarm about the gauge, if it sends nothing while the strand stands still', () => {
    watch({ settleLengthMm: 1000 });
    feed(300, { d: 1.75, v: 20 });
    feed(300, { d: 'nan', v: 0 });
    expect(raised(1)).toEqual([]);
    expect(line.monitor.snapshot().unwatched.strand).toBeNull();
  });

  it('still reports a gauge that sends nothing while the strand moves', () => {
    watch({ settleLengthMm: 1000 });
    feed(300, { d: 1.75, v: 20 });
    feed(30, { d: 'nan', v: 0 });
    feed(5, { d: 'nan', v: 20 });
    expect(raised(1)).toEqual(['gaugeMissing']);
  });
});

describe('an alarm raised before a run starts', () => {
  it('belongs to the run, with all its steps, if its cause still holds', () => {
    watch();
    // A sensor that is open as soon as the board is switched on; the heaters follow a minute later.
    feed(60, { d: 0, v: 0, also: 't1=20 s1=0 p1=0 t2=nan s2=0 p2=0 f2=1' });
    expect(line.monitor.snapshot().run).toBeNull();
    expect(raised(null)).toEqual(['sensorOpen']);
    const [alarm] = line.monitor.alarms.standing();
    if (alarm === undefined) throw new Error('There is no alarm.');
    line.monitor.alarms.acknowledge(alarm.id, { name: 'Ada', from: null });
    feed(20, { d: 0, v: 0, also: 't1=20 s1=200 p1=1 t2=nan s2=0 p2=0 f2=1' });
    expect(line.monitor.snapshot().run?.id).toBe(1);
    expect(raised(null)).toEqual([]);
    const steps = line.store.reader.alarmJournal(1).filter(({ alarm: { type } }) => type === 'sensorOpen');
    expect(steps.map(({ step }) => step)).toEqual(['raised', 'acknowledged']);
  });

  it('stays outside if its cause was gone by then', () => {
    watch();
    feed(60, { d: 0, v: 0, also: 't1=20 s1=0 p1=0 t2=nan s2=0 p2=0 f2=1' });
    feed(200, { d: 0, v: 0, also: 't1=20 s1=0 p1=0 t2=20 s2=0 p2=0 f2=0' });
    feed(20, { d: 0, v: 0, also: 't1=20 s1=200 p1=1 t2=20 s2=0 p2=0 f2=0' });
    expect(line.monitor.snapshot().run?.id).toBe(1);
    expect([raised(null), raised(1)]).toEqual([['sensorOpen'], []]);
  });
});

describe('a log that starts while the line is winding', () => {
  it('is stored from its first reading on', async () => {
    watch({ settleLengthMm: 1000, gaugeToWinderMm: 500 });
    feed(60, { d: 1.75, v: 20 });
    line.store.samples.flush();
    const { timeMs, gaugeMm } = await line.store.columns.readings(1, 0, 1e9, ['d']);
    // Two lines are needed to recognise the form of all.
    expect(timeMs.length).toBe(lines);
    expect(gaugeMm[0]).toBe(0);
    expect(gaugeMm.at(-1)).toBeCloseTo(len - 1, 3);
    expect(line.monitor.snapshot().run?.startedMs).toBeCloseTo(timeMs[0] ?? 0, -1);
  });

  it('finds a blob in its first second', () => {
    watch({ settleLengthMm: 1000, gaugeToWinderMm: 5000 });
    feed(0.5, { d: 1.75, v: 20 });
    feed(0.5, { d: 2.2, v: 20 });
    feed(120, { d: 1.75, v: 20 });
    expect(line.monitor.snapshot().sections.map(({ kind }) => kind)).toContain('blob');
  });

  it('keeps nothing of a line that stood cold before', async () => {
    watch({ settleLengthMm: 1000 });
    feed(60, { d: 1.75, v: 0 });
    feed(60, { d: 1.75, v: 20 });
    line.store.samples.flush();
    const { timeMs } = await line.store.columns.readings(1, 0, 1e9, ['d']);
    expect(timeMs.length).toBe(60 * 20);
  });
});
