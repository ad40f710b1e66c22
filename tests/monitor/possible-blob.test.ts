import { afterEach, expect, it } from 'vitest';
import { type WatchedLine, watchLine } from './watched-line.ts';

let line: WatchedLine;
afterEach(() => line.remove());

/** 50 readings a second at 45 mm/s: one reading each 0.9 mm, too few to tell a short blob from a wrong reading. */
function feed(from: number, to: number, diameterMm: (i: number) => number = () => 1.75): void {
  for (let i = from; i < to; i++) {
    const d = diameterMm(i) + 0.004 * Math.sin(i * 12.9898);
    line.feed(`ms=${i * 20} n=${i} d=${d.toFixed(3)} v=45 len=${(i * 0.9).toFixed(1)}\n`);
  }
}
const standing = () => line.monitor.alarms.standing().map(({ type }) => type);

it('names a blob that one reading has shown as possible in the headline, and a sure one behind it first', () => {
  line = watchLine({ settleLengthMm: 1000, gaugeToWinderMm: 2000 });
  line.monitor.setStage('winding', 'Ada');
  feed(1, 3000);
  feed(3000, 3200, (i) => (i === 3100 ? 2.3 : 1.75));
  expect(standing()).toEqual(['blobInDoubt']);
  const snapshot = line.monitor.snapshot();
  expect(snapshot.headline.sentence).toMatch(/^Possible blob of 2\.30 mm on its way to the winder\.$/);
  expect(snapshot.headline.severity).toBe('abnormal');

  feed(3200, 3400, (i) => (i > 3300 && i < 3316 ? 2.4 : 1.75));
  expect(standing()).toContain('blob');
  expect(line.monitor.snapshot().headline.sentence).toMatch(/^Blob of 2\.40 mm on its way to the winder\./);
  expect(line.monitor.snapshot().headline.severity).toBe('danger');
});
