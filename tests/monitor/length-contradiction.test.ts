import { afterEach, describe, expect, it } from 'vitest';
import { liveView } from '../../server/api/live-view.ts';
import { gaugeOptics, lineParts } from '../../server/monitor/settings-to-parts.ts';
import { adviceOnSpool } from '../../server/monitor/spool/spool-advice.ts';
import { casesOf } from '../long-check.ts';
import { spoolParts } from './spool-parts.ts';
import { type WatchedLine, watchLine } from './watched-line.ts';

let line: WatchedLine;
let lines = 0;
afterEach(() => line.remove());

/** 50 readings a second; `lenShare` = counted length per length by the speed. */
function feed(seconds: number, lenShare: number, diameterMm: (i: number) => number = () => 1.75): void {
  for (let i = 0; i < seconds * 50; i++) {
    lines++;
    len += 0.7 * lenShare;
    const d = diameterMm(i) + 0.004 * Math.sin(lines * 12.9898);
    line.feed(`ms=${lines * 20} n=${lines} d=${d.toFixed(3)} v=35 len=${len.toFixed(1)}\n`);
  }
}
let len = 0;

function watch(): void {
  lines = 0;
  len = 0;
  line = watchLine({ settleLengthMm: 1000, gaugeToWinderMm: 500 });
}

const alarms = () => line.monitor.alarms.standing().map(({ type }) => type);

describe('a length counter and a speed that contradict each other', () => {
  it('are one alarm with both figures, and no place on the spool is claimed meanwhile', () => {
    watch();
    feed(60, 1);
    expect(alarms()).toEqual([]);
    feed(120, 0.5);
    expect(alarms()).toEqual(['lengthContradicted']);
    const before = line.monitor.snapshot();
    expect(before.headline.sentence).toMatch(
      /^The length counter and the speed disagree: len counts 1[78] mm\/s, v says 35 mm\/s\.$/,
    );
    feed(2, 0.5, (i) => (i > 50 && i < 60 ? 2.2 : 1.75));
    const blob = line.monitor.alarms.standing().find(({ type }) => type === 'blob');
    expect(blob?.sentence).toMatch(/^Blob of 2\.20 mm, 3 mm long\. The hotend limit/);
    expect(blob?.sentence).not.toContain(' at ');
    expect(blob?.facts.spoolMm).toBeUndefined();
    expect(line.monitor.snapshot().headline.sentence).not.toMatch(/winder|\d m of spool/);
    const view = liveView(line.monitor, 'test', []);
    expect(view.now.spoolMm).toBeNull();
    expect(view.notWatched).toContain('places');
    expect(view.sections.map(({ reachesWinderInS }) => reachesWinderInS)).toEqual([null]);
    expect(view.sections.map(({ fromSpoolMm }) => fromSpoolMm)).toEqual([null]);
  });

  it('that agree again claim places again', () => {
    watch();
    feed(60, 1);
    feed(120, 0.5);
    feed(400, 1);
    expect(line.monitor.snapshot().placesAreKnown).toBe(true);
    expect(line.monitor.alarms.standing().filter(({ state }) => state === 'unacknowledged')).toEqual([]);
  });

  it('are not reported for single garbled values, which are counted instead', () => {
    watch();
    for (let i = 0; i < 40; i++) {
      feed(5, 1);
      len += 100;
      feed(0.02, 1);
      len -= 100;
    }
    feed(1, 1);
    const snapshot = line.monitor.snapshot();
    expect(alarms()).toEqual([]);
    expect(snapshot.lengthJumps).toBe(40);
    expect(snapshot.last?.gaugeMm).toBeGreaterThan(0);
    expect(Math.abs((snapshot.last?.gaugeMm ?? 0) - len)).toBeLessThan(20);
    expect(liveView(line.monitor, 'test', []).lengthJumps).toBe(40);
  });

  it.each(casesOf(['a printer', 'the run'], 1))(
    'leave a warning on the spool, judged by the limits of %s',
    async (limitsOf) => {
      watch();
      line.monitor.setStage('winding', 'Ada');
      feed(60, 1);
      feed(2, 1, (i) => (i > 50 && i < 60 ? 2.2 : 1.75));
      feed(600, 1);
      feed(300, 0.5);
      feed(600, 1);
      const id = line.monitor.snapshot().spool?.id ?? 0;
      line.store.tick(Date.now());
      const { judge, spools } = spoolParts(line);
      const judgement = limitsOf === 'the run' ? await judge.judgeAsWound(spools.wound(id)) : await judge.judge(id);
      const [doubt] = judgement.lengthDoubts;
      expect(judgement.lengthDoubts).toHaveLength(1);
      // 300 s at 35 mm/s, of which half were counted.
      expect(doubt?.offMm).toBeGreaterThan(4800);
      expect(doubt?.offMm).toBeLessThan(5800);
      expect(judgement.warnings).toContainEqual(expect.stringContaining('the length counter and the speed disagreed'));
      const examination = await judge.examine(judgement);
      const { settings } = line.monitor;
      const setUp = { parts: lineParts(settings, null), optics: gaugeOptics(settings) };
      expect(adviceOnSpool(examination, judgement.lengthDoubts, judgement.limits, setUp)).toContainEqual(
        expect.objectContaining({ kind: 'lengthContradicted', fromMm: doubt?.fromMm, toMm: doubt?.toMm }),
      );
      const blob = judgement.sections.find(({ kind }) => kind === 'blob');
      const [first] = judgement.plan?.steps ?? [];
      const blobMm = (blob?.toMm ?? 0) - judgement.woundSpool.startGaugeMm;
      expect(blobMm).toBeGreaterThan(60_000 / 35);
      expect((first?.fromMm ?? 0) - blobMm).toBeGreaterThan(doubt?.offMm ?? 0);
    },
  );
});
