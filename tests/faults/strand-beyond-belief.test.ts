import { describe, expect, it } from 'vitest';
import type { SpoolJudgement } from '../../server/api/contract/judgement.ts';
import { SpoolAnalysis } from '../../server/monitor/analysis/spool-analysis.ts';
import { strandLimits } from '../../server/monitor/settings-to-parts.ts';
import { defaultLineSettings } from '../../server/settings/check-line-settings.ts';
import { woundFromLines } from '../api/test-service.ts';

const limits = strandLimits(defaultLineSettings());
const READINGS = 20_000;

/** Records of before a speed had a limit hold such runs, and so do archives from elsewhere. */
describe.each([
  ['460 km', 460e6],
  ['ten million kilometres', 1e13],
])('a run of %s of strand', (_what, lengthMm) => {
  const gaugeMm = Float64Array.from({ length: READINGS }, (_, i) => (i * lengthMm) / (READINGS - 1));
  const analysis = new SpoolAnalysis();
  analysis.add({
    timeMs: gaugeMm.map((_, i) => 1e12 + i * 100),
    gaugeMm,
    diameterMm: gaugeMm.map((_, i) => 1.75 + 0.01 * Math.sin(i)),
    axesMm: null,
  });
  const spool = { startGaugeMm: 0, endGaugeMm: lengthMm, lengthFactor: 1, cutOuts: [], limits, growing: false };

  it('is summed in no more stretches than a long spool has', () => {
    const discards = [{ fromMm: lengthMm / 4, toMm: lengthMm / 2 }];
    const { stretches } = analysis.stretches(spool, lengthMm, { discards, lumpsAtMm: [lengthMm] });
    expect(stretches).toHaveLength(4000);
    const total = (name: 'woundMm' | 'discardMm' | 'lumps') => stretches.reduce((sum, one) => sum + one[name], 0);
    expect(total('woundMm') / lengthMm).toBeCloseTo(1, 6);
    expect(total('discardMm') / lengthMm).toBeCloseTo(1 / 4, 6);
    expect(total('lumps')).toBe(1);
  });

  it('is judged with as many values as a long spool', () => {
    const { statistics, flow } = analysis.examine(spool);
    expect(statistics?.individuals.spacingMm).toBeCloseTo(lengthMm / 100_000, 6);
    expect(flow?.mean).toBeCloseTo(0, 3);
    // A grid of a million cells is too coarse for the shorter windows, which then say nothing.
    expect(flow?.worst.filter(({ most }) => most !== null).map(({ windowMm }) => windowMm)).toEqual(
      [100, 1000, 10_000].filter((windowMm) => windowMm >= lengthMm / 1e6),
    );
    expect(analysis.steadiness(spool)).not.toBeNull();
  });
});

/** A month at the fastest speed that counts, one reading in four minutes. */
function* withoutEnd(): Generator<string> {
  for (let i = 0; i < 11_000; i++) yield `ms=${i * 240_000} d=${(1.75 + 0.01 * Math.sin(i / 7)).toFixed(3)} v=500`;
}

it('is kept and judged like any other beyond a thousand kilometres', async () => {
  const service = await woundFromLines(withoutEnd());
  try {
    const { woundMm } = await service.get<SpoolJudgement>('/api/spools/1/judgement');
    expect(woundMm).toBeGreaterThan(1.08e9);
    const summary = await service.get<{ woundMm: number }>('/api/runs/1/summary');
    expect(summary.woundMm).toBe(woundMm);
    for (const path of ['/api/spools/1/cut-plan', '/api/spools/1/reel', '/api/spools/1/spectrum'])
      await expect(service.get(path)).resolves.toBeDefined();
  } finally {
    await service.stop();
  }
});
