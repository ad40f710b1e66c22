import { afterEach, describe, expect, it } from 'vitest';
import { FormatWatch } from '../../server/monitor/line/format-watch.ts';
import type { Reading } from '../../server/reading/reading.ts';
import { type WatchedLine, watchLine } from './watched-line.ts';

let line: WatchedLine;
let lines = 0;
afterEach(() => line.remove());

type Format = (ms: number, d: string, t1: string) => string;
const NAMED: Format = (ms, d, t1) => `ms=${ms} n=${lines} d=${d} t1=${t1} s1=200 p1=0.3 v=20 len=${lines}`;
const OTHER: readonly (readonly [string, Format])[] = [
  ['free text', (ms, d, t1) => `Time ${ms} ms: diameter is ${d} mm, melt ${t1} C, speed 20 mm/s`],
  [
    'JSON with other names',
    (ms, d, t1) => JSON.stringify({ uptime: ms, width: Number(d), melt: Number(t1), pull: 20 }),
  ],
  ['other names', (ms, d, t1) => `ms=${ms} width=${d} melt=${t1} pull=20`],
  ['bare columns', (_ms, d, t1) => `${d};${t1};20`],
];

function feed(seconds: number, format: Format, d = '', t1 = ''): void {
  for (let i = 0; i < seconds * 20; i++) {
    lines += 1;
    const diameter = (1.75 + 0.004 * Math.sin(lines * 12.9898)).toFixed(3);
    const celsius = (200 + 0.2 * Math.sin(lines / 7)).toFixed(2);
    line.feed(`${format(lines * 50, d || diameter, t1 || celsius)}\n`);
  }
}

const raised = () =>
  line.store.reader.alarmJournal(1).flatMap(({ alarm, step }) => (step === 'raised' ? [alarm.type] : []));

describe('lines that change their format while purging', () => {
  it.each(OTHER)('raise one alarm about the link, none about sensors (%s)', (what, format) => {
    lines = 0;
    line = watchLine({ settleLengthMm: 1e6 });
    feed(120, NAMED);
    expect(line.monitor.snapshot().stage.stage).toBe('purging');
    feed(60, format);
    expect(raised()).toEqual(['signalsChanged']);
    expect(line.monitor.snapshot().headline.sentence).toBe(
      'The names in the data have changed and none is understood: nothing is being watched.',
    );
    feed(60, NAMED);
    expect(raised()).toEqual(['signalsChanged']);
    // Once a board prints free text, its names mean nothing until they are confirmed.
    if (what === 'free text') return;
    expect(line.monitor.alarms.standing().map(({ state }) => state)).toEqual(['returnedUnacknowledged']);
  });

  it('raise one alarm if only the names of the sensors change', () => {
    lines = 0;
    line = watchLine({ settleLengthMm: 1e6 });
    const rest = (ms: number) => `ms=${ms} n=${lines} s1=200 p1=0.3 s2=190 p2=0.2 v=20 len=${lines}`;
    const before: Format = (ms, d, t1) => `${rest(ms)} d=${d} t1=${t1} t2=${Number(t1) - 10}`;
    const after: Format = (ms, d, t1) => `${rest(ms)} width=${d} melt=${t1} feed=${Number(t1) - 10}`;
    feed(120, before);
    feed(60, after);
    expect(raised()).toEqual(['signalsChanged']);
    expect(line.monitor.snapshot().headline.sentence).toBe(
      'Names in the data have changed: the diameter and the temperatures of Feed zone and Melt zone can no longer be watched.',
    );
    feed(60, before);
    expect(raised()).toEqual(['signalsChanged']);
    expect(line.monitor.alarms.standing().map(({ state }) => state)).toEqual(['returnedUnacknowledged']);
  });

  it('hide no sensor that fails while another one changes its name', () => {
    lines = 0;
    line = watchLine({ settleLengthMm: 1e6 });
    const rest = (ms: number, t1: string) => `ms=${ms} n=${lines} t1=${t1} s1=200 p1=0.3 v=20 len=${lines}`;
    feed(120, (ms, d, t1) => `${rest(ms, t1)} d=${d}`);
    feed(60, (ms, d) => `${rest(ms, 'nan')} width=${d} err=3`);
    expect(raised().toSorted()).toEqual(['sensorOpen', 'signalsChanged']);
  });

  it('are not confused with a slow board that prints its signals in two lines', () => {
    const watch = new FormatWatch();
    const zones = [{ zone: 1, temperature: 0, setpoint: -1, power: -1, fault: -1 }];
    // The frame is as warm as the cold zone, and known only once it has been printed.
    const names = ['t1', 'room', 'd', 'frame'];
    const values = [20.1, 20.3, 1.75, 20.2];
    for (let i = 0; i < 6; i++) {
      const sent = i === 0 ? names.slice(0, 2) : names;
      const signals = sent.map((name, k) => ({ name, role: k % 2 === 0 ? name : null, unit: '' }));
      const layout = { signals, diameter: i === 0 ? -1 : 2, zones } as unknown as Reading['layout'];
      const row = values.map((value, k) => (k >> 1 === i % 2 ? value : Number.NaN));
      watch.step({ timeMs: i * 1200, layout, values: row, lostBefore: 0, restarted: false });
      expect(watch.lost).toBeNull();
    }
  });

  it('are not confused with sensors that fail and keep their names', () => {
    lines = 0;
    line = watchLine({ settleLengthMm: 1e6 });
    feed(120, NAMED);
    feed(60, NAMED, 'nan', 'nan');
    expect(raised().toSorted()).toEqual(['gaugeMissing', 'sensorOpen']);
  });
});
