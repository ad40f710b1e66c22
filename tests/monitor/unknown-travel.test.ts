import { afterEach, expect, test } from 'vitest';
import type { LineSettings } from '../../server/settings/line-settings.ts';
import { type WatchedLine, watchLine } from './watched-line.ts';

const RATE = 20;
let line: WatchedLine;
let timeS = 0;
afterEach(async () => {
  await line.remove();
  timeS = 0;
});

function start(settings: Partial<LineSettings> = {}): void {
  line = watchLine(settings);
}

/** Strand of 1.75 mm at 20 readings a second, without speed or length, unless `more` sends them. */
function wind(seconds: number, diameterMm: (s: number) => number, more: (s: number) => string = () => ''): void {
  let text = '';
  for (let i = 0; i < seconds * RATE; i++) {
    const s = i / RATE;
    const d = diameterMm(s) + 0.004 * Math.sin(i * i);
    text += `ms=${Math.round(1000 * (timeS + s))} d=${d.toFixed(3)} t1=200.${i % 7} s1=200 p1=0.3${more(timeS + s)}\n`;
  }
  timeS += seconds;
  line.feed(text);
}

/** A blob of 0.4 s, from `atS`. */
const blob = (atS: number) => (s: number) =>
  1.75 + (s > atS && s < atS + 0.4 ? 0.5 * Math.sin((Math.PI * (s - atS)) / 0.4) : 0);
const blobAlarm = () => line.monitor.snapshot().alarms.find(({ type }) => type === 'blob');
const sentence = () => line.monitor.snapshot().headline.sentence;
const good = () => 1.75;

test('asks for a speed before winding where neither speed nor length comes', () => {
  start();
  wind(20, good);
  const { stage } = line.monitor.snapshot();
  expect(stage.stage).toBe('purging');
  expect(stage.missing).toContain('set the strand speed in Set-up, or places on the spool stay unknown');
});

test('says that places are unknown, never 0.0 m and all well', () => {
  start();
  wind(120, good);
  expect(line.monitor.snapshot().stage.stage).toBe('winding');
  expect(sentence()).toMatch(/^Winding spool 1, no fault seen now\. Neither speed nor length arrives/);
});

test('two blobs a minute apart are two, each over once it has passed, and none has a place', () => {
  start();
  wind(120, good);
  wind(60, blob(20));
  expect(blobAlarm()).toMatchObject({ occurrences: 1, state: 'unacknowledged' });
  expect(blobAlarm()?.sentence).toMatch(/^Blob of 2\.\d\d mm\. The hotend/);
  wind(60, blob(20));
  expect(blobAlarm()).toMatchObject({ occurrences: 2, state: 'unacknowledged' });
  expect(blobAlarm()?.sentence).not.toMatch(/ m\b/);
  wind(100, good);
  expect(blobAlarm()?.state).toBe('returnedUnacknowledged');
  expect(line.monitor.snapshot().sections.filter(({ kind }) => kind === 'blob')).toHaveLength(2);
});

test('two peaks within two seconds are one blob', () => {
  start();
  wind(120, good);
  wind(30, (s) => Math.max(blob(10)(s), blob(11)(s)));
  expect(blobAlarm()).toMatchObject({ occurrences: 1 });
});

test('a set speed gives places', () => {
  start({ setSpeedMmPerS: 30 });
  wind(120, good);
  wind(20, blob(10));
  expect(line.monitor.snapshot().stage.missing).toEqual([]);
  expect(blobAlarm()?.sentence).toMatch(/ at \d+\.\d\d m of spool 1/);
});

test('a speed that is sent gives places', () => {
  start();
  wind(120, good, () => ' v=30');
  expect(sentence()).toMatch(/^Winding spool 1: \d+ m/);
});

test('a speed that no strand has gives none, and is said, until a possible one comes', async () => {
  start();
  // 33 mm/s in mm/min.
  wind(120, good, () => ' v=1980');
  const impossible = /A strand cannot move at 1980 mm\/s: places on the spool are unknown\. Set the factor/;
  expect(sentence()).toMatch(impossible);
  expect(line.monitor.snapshot()).toMatchObject({ placesAreKnown: false, last: { gaugeMm: 0 } });
  await line.restart();
  wind(120, good, () => ' v=1980');
  expect(sentence()).toMatch(impossible);
  wind(60, blob(20), () => ' v=1980');
  expect(blobAlarm()?.sentence).toMatch(/^Blob of 2\.\d\d mm\. The hotend/);
  wind(20, good, () => ' v=33');
  expect(line.monitor.snapshot().placesAreKnown).toBe(true);
});

test('a digit too much in a speed leaves the places known', () => {
  start();
  wind(120, good, (s) => (Math.round(s * RATE) % 100 === 50 ? ' v=3300' : ' v=33'));
  const { placesAreKnown, last } = line.monitor.snapshot();
  expect(placesAreKnown).toBe(true);
  expect(last?.gaugeMm).toBeCloseTo(120 * 33, -1);
});
