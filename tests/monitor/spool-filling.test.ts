import { afterEach, describe, expect, it } from 'vitest';
import { ClockAhead, type WatchedLine, watchLine } from './watched-line.ts';

const PATH_MM = 100;

let line: WatchedLine;
afterEach(() => line.remove());

/** A reading each second at 2 mm/s, up to this gauge length. */
let fedMm = 0;
function feedTo(toMm: number): void {
  for (; fedMm <= toMm; fedMm += 2)
    line.feed(`ms=${fedMm * 500} n=${fedMm} d=${(1.75 + 0.003 * Math.sin(fedMm)).toFixed(3)} v=2 len=${fedMm}\n`);
}

/** Winding starts at 200 mm. The spool holds two layers of five turns: 5π(2 · 80 + 4 · 1.75) mm = 2.62 m. */
function windSmallSpool(wantedOnSpoolM = 0): void {
  fedMm = 0;
  const reel = { spoolCoreMm: 80, spoolFlangeMm: 88, spoolWidthMm: 10, windingPitchMm: 2 };
  const settings = { gaugeToWinderMm: PATH_MM, settleLengthMm: 50_000, stopAfterMin: 600, wantedOnSpoolM, ...reel };
  line = watchLine(settings, { timing: 'live', resumable: true }, new ClockAhead());
  line.monitor.setStage('purging', 'test');
  feedTo(200);
  line.monitor.setStage('winding', 'test');
}
/** The gauge length at which this much is wound. */
const wound = (mm: number) => line.monitor.snapshot().spool!.startGaugeMm + PATH_MM + mm;
const alarm = (type: string) => line.monitor.alarms.standing().find((one) => one.type === type);

describe('a spool that fills', () => {
  it('raises an alarm ten minutes before it is full, which returns after the spool was changed', () => {
    windSmallSpool();
    // 600 s at 2 mm/s are 1.2 m.
    feedTo(wound(2620 - 1200 - 30));
    expect(alarm('spoolFull')).toBeUndefined();
    feedTo(wound(2620 - 1200 + 40));
    expect(alarm('spoolFull')).toMatchObject({ priority: 'high', state: 'unacknowledged' });
    expect(alarm('spoolFull')!.sentence).toMatch(/^Spool 1 will be full in (9|10) min/);
    line.monitor.changeSpool('test');
    feedTo(fedMm + 2 * 70);
    expect(alarm('spoolFull')).toMatchObject({ state: 'returnedUnacknowledged' });
  });

  it('raises an alarm when it holds what was wanted, and none any more for a larger amount', () => {
    windSmallSpool();
    const { spool } = line.monitor.snapshot();
    const want = (amount: number) => {
      line.store.writer.wantOnSpool(spool!.id, { amount, unit: 'metres' });
      line.monitor.notesChanged(spool!.runId);
    };
    want(0.5);
    feedTo(wound(490));
    expect(alarm('wantedReached')).toBeUndefined();
    feedTo(wound(506));
    expect(alarm('wantedReached')).toMatchObject({ priority: 'medium', state: 'unacknowledged' });
    want(5);
    feedTo(fedMm + 2 * 40);
    expect(alarm('wantedReached')).toMatchObject({ state: 'returnedUnacknowledged' });
  });

  it('raises it for the amount wanted on each spool, entered before there was one, unless this one has its own', () => {
    windSmallSpool(0.4);
    const { spool } = line.monitor.snapshot();
    feedTo(wound(390));
    expect(alarm('wantedReached')).toBeUndefined();
    feedTo(wound(406));
    expect(alarm('wantedReached')).toMatchObject({ state: 'unacknowledged' });
    line.store.writer.wantOnSpool(spool!.id, { amount: 5, unit: 'metres' });
    line.monitor.notesChanged(spool!.runId);
    feedTo(fedMm + 2 * 40);
    expect(alarm('wantedReached')).toMatchObject({ state: 'returnedUnacknowledged' });
  });
});
