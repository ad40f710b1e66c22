import { afterEach, expect, it } from 'vitest';
import { spoolParts } from './spool-parts.ts';
import { type WatchedLine, watchLine } from './watched-line.ts';

let line: WatchedLine;
afterEach(() => line.remove());

it('takes back a sure blob, live and judged again, once the jump before it turns out to be the gauge’s', async () => {
  line = watchLine({ settleLengthMm: 1000, gaugeToWinderMm: 2000 });
  line.monitor.setStage('winding', 'Ada');
  const blobs = () => line.monitor.snapshot().sections.filter(({ kind }) => kind === 'blob');
  const feed = (fromMm: number, toMm: number) => {
    for (let i = Math.round(fromMm / 0.7); i < Math.round(toMm / 0.7); i++) {
      const atMm = i * 0.7;
      // Dust settles at 5 m; 30 mm further on there is a ridge of 1.86 mm.
      const trueMm = 1.78 + (Math.abs(atMm - 5030) < 4 ? 0.08 : 0) + 0.004 * Math.sin(i * 12.9898);
      const d = trueMm + (atMm >= 5000 ? 0.07 : 0);
      line.feed(`ms=${i * 20} n=${i} d=${d.toFixed(3)} v=35 len=${atMm.toFixed(1)}\n`);
    }
  };
  feed(1, 5060);
  expect(blobs()).toMatchObject([{ verdict: 'discard', open: false }]);
  feed(5060, 5300);
  expect(blobs()).toMatchObject([{ verdict: 'doubtful', doubt: 'gaugeShifted' }]);
  expect(line.monitor.alarms.standing().map(({ type }) => type)).toContain('blobInDoubt');

  feed(5300, 9000);
  // 4 m that the gauge showed 0.07 mm too thick are left out.
  expect(line.monitor.snapshot().meanDiameterMm).toBeCloseTo(1.78, 2);
  line.store.tick(Date.now());
  const { judge, spools } = spoolParts(line);
  const id = line.monitor.snapshot().spool?.id ?? 0;
  for (const { sections } of [await judge.judge(id), await judge.judgeAsWound(spools.wound(id))])
    expect(sections.filter(({ kind }) => kind === 'blob')).toMatchObject([
      { verdict: 'doubtful', doubt: 'gaugeShifted' },
    ]);
});
