import { describe, expect, it } from 'vitest';
import { type Examination, SpoolAnalysis } from '../../server/monitor/analysis/spool-analysis.ts';
import { examinationFrom, plainExamination } from '../../server/monitor/spool/examination.ts';
import type { StrandLimits } from '../../server/strand/strand-limits.ts';

const limits: StrandLimits = {
  nominalMm: 1.75,
  toleranceMm: 0.05,
  hotendLimitMm: 1.9,
  leastFeedableMm: 1.6,
  strandPresentMm: 1,
  offToleranceLengthMm: 100,
  gaugeUncertaintyMm: 0.01,
};

/** A reading a millimetre, 20 mm/s. */
function examined(lengthMm: number, diameterAt: (mm: number) => number, ovalMm: number | null = null): Examination {
  const gaugeMm = Float64Array.from({ length: lengthMm }, (_, i) => i);
  const diameterMm = gaugeMm.map(diameterAt);
  const axesMm = ovalMm === null ? null : { x: diameterMm.map((d) => d + ovalMm), y: diameterMm };
  const analysis = new SpoolAnalysis({ timeMs: gaugeMm.map((mm) => 1e12 + mm * 50), gaugeMm, diameterMm, axesMm });
  return plainExamination(
    analysis.examine({ startGaugeMm: 0, endGaugeMm: lengthMm, lengthFactor: 1, limits, growing: false }),
  );
}

const noisy = (mm: number) => 1.75 + 0.004 * Math.sin(mm * 12.9898);
const whole = examined(
  60_000,
  (mm) => {
    if (mm % 9000 > 8990) return 1.95;
    if (mm > 50_000 && mm < 50_400) return 1.7512;
    if (mm > 30_000) return noisy(mm) + 0.02 * Math.sin((2 * Math.PI * mm) / 400);
    return noisy(mm) + 0.03 * Math.min(1, Math.max(0, (mm - 10_000) / 8000));
  },
  0.02,
);

describe('a kept examination', () => {
  it.each([
    ['of a long spool', whole],
    ['of strand that does not vary', examined(5000, () => 1.75)],
    ['of nothing that was measured', examined(500, () => Number.NaN)],
    ['of two readings', examined(2, () => 1.75)],
    ['of one reading', examined(1, () => 1.75)],
    ['of no reading', examined(0, () => 1.75)],
    ['of a gauge at its end', examined(5000, (mm) => (mm < 2500 ? 1.95 : noisy(mm)))],
  ])('is understood: %s', (_what, examination) => {
    expect(examinationFrom(JSON.parse(JSON.stringify(examination)))).toStrictEqual(examination);
  });

  it('holds something everywhere', () => {
    for (const [name, value] of Object.entries(whole)) expect([name, value]).not.toStrictEqual([name, null]);
    expect(whole.statistics!.capability).not.toBeNull();
    for (const list of [whole.found, whole.trends, whole.troubles, whole.flow!.worst])
      expect(list.length).toBeGreaterThan(0);
  });

  it.each([
    ['a section of no known kind', 'found.0.kind', 'marked'],
    ['a section without a place', 'found.0.toMm', undefined],
    ['a section that ends before it begins', 'found.0.toMm', -1e9],
    ['a section at a time that no clock shows', 'found.0.fromTimeMs', 1e300],
    ['a verdict that nobody knows', 'found.0.verdict', 'perfect'],
    ['nothing for a section', 'found.0', null],
    ['statistics without figures', 'statistics', {}],
    ['a capability in words', 'statistics.capability.cp.value', 'high'],
    ['a histogram in words', 'statistics.histogram.edgesMm', ['a']],
    ['a flow without windows', 'flow.worst', undefined],
    ['an ovality without a place', 'ovality.largestAtMm', undefined],
    ['a trend of nothing', 'trends.0', { kind: 'drift' }],
    ['a trouble of no known kind', 'troubles.0.kind', 'constructor'],
    ['no end', 'toGaugeMm', undefined],
  ])('is as good as none where it tells %s', (_what, path, value) => {
    const one = JSON.parse(JSON.stringify(whole));
    const names = path.split('.');
    const last = names.pop()!;
    const holder = names.reduce((inside, name) => inside[name], one);
    expect(holder).toHaveProperty(last);
    holder[last] = value;
    expect(examinationFrom(JSON.parse(JSON.stringify(one)))).toBeNull();
  });

  it.each([[null], [7], ['text'], [[]], [{}]])('is none where it is %j', (kept) => {
    expect(examinationFrom(kept)).toBeNull();
  });
});
