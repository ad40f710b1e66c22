import { afterEach, expect, it } from 'vitest';
import { type WatchedLine, watchLine } from './watched-line.ts';

let line: WatchedLine;
afterEach(() => line.remove());

it('never says that all is well or that a zone cools while it stays above its set-point without power', () => {
  line = watchLine({ settleLengthMm: 1000, gaugeToWinderMm: 500, zoneNames: ['Die'] });
  line.monitor.setStage('winding', 'Ada');
  const seen = new Set<string>();
  for (let i = 1; i < 400 * 10; i++) {
    const [d, t] = [1.75 + 0.004 * Math.sin(i * 12.9898), 211 + 0.2 * Math.sin(i * 7.123)];
    line.feed(
      `ms=${i * 100} n=${i} d=${d.toFixed(3)} v=35 len=${(i * 3.5).toFixed(1)} rpm=24 t1=${t.toFixed(1)} s1=195 p1=0\n`,
    );
    if (i % 100 === 0 && i > 700) {
      const { headline, zones } = line.monitor.snapshot();
      const { sentence } = headline;
      seen.add(zones[0]?.doing ?? '');
      expect(sentence).not.toMatch(/all well|cool/);
      expect(sentence).toMatch(/above its set-point/);
    }
  }
  expect([...seen]).toEqual(['away', 'faulty']);
  expect(line.monitor.alarms.standing().map(({ sentence }) => sentence)).toEqual([
    'Zone 1 (Die) stays above its set-point without power (211 °C, set-point 195 °C, power 0 %). Something else heats it, or its reading is wrong.',
  ]);
});
