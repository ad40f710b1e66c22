import { describe, expect, it } from 'vitest';
import { type Examination, SpoolAnalysis } from '../../server/monitor/analysis/spool-analysis.ts';
import { examinationFrom, plainExamination } from '../../server/monitor/spool/examination.ts';
import type { StrandLimits } from '../../server/strand/strand-limits.ts';
import { normal, seeded } from '../chance.ts';

const limits: StrandLimits = {
  nominalMm: 1.75,
  toleranceMm: 0.05,
  hotendLimitMm: 1.9,
  smallestFeedableMm: 1.6,
  strandPresentMm: 1,
  offToleranceLengthMm: 100,
  gaugeUncertaintyMm: 0.01,
};

/** One reading per millimetre, at 20 mm/s. */
function examined(lengthMm: number, diameterAt: (mm: number) => number, ovalMm: number | null = null): Examination {
  const gaugeMm = Float64Array.from({ length: lengthMm }, (_, i) => i);
  const diameterMm = gaugeMm.map(diameterAt);
  const axesMm = ovalMm === null ? null : { x: diameterMm.map((d) => d + ovalMm), y: diameterMm };
  const analysis = new SpoolAnalysis();
  analysis.add({ timeMs: gaugeMm.map((mm) => 1e12 + mm * 50), gaugeMm, diameterMm, axesMm });
  return plainExamination(
    analysis.examine({ startGaugeMm: 0, endGaugeMm: lengthMm, lengthFactor: 1, cutOuts: [], limits, growing: false }),
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

describe('a stored examination', () => {
  it.each([
    ['of a long spool', whole],
    ['of strand without variation', examined(5000, () => 1.75)],
    ['of strand that was not measured', examined(500, () => Number.NaN)],
    ['of two readings', examined(2, () => 1.75)],
    ['of one reading', examined(1, () => 1.75)],
    ['without readings', examined(0, () => 1.75)],
    ['of a saturated gauge', examined(5000, (mm) => (mm < 2500 ? 1.95 : noisy(mm)))],
  ])('is read back unchanged: %s', (_what, examination) => {
    expect(examinationFrom(JSON.parse(JSON.stringify(examination)))).toStrictEqual(examination);
  });

  it('has a value in every field', () => {
    for (const [name, value] of Object.entries(whole)) expect([name, value]).not.toStrictEqual([name, null]);
    expect(whole.statistics?.capability).toEqual(expect.anything());
    for (const list of [whole.found, whole.trends, whole.troubles, whole.flow?.worst])
      expect(list).toEqual(expect.arrayContaining([expect.anything()]));
  });

  it('states how much the readings scatter where they do so most', () => {
    const gauss = normal(seeded(5));
    const { gaugeNoiseMm } = examined(8000, (mm) => 1.75 + (mm > 3000 && mm < 5500 ? 0.03 : 0.006) * gauss());
    expect(gaugeNoiseMm).toBeGreaterThan(0.026);
    expect(gaugeNoiseMm).toBeLessThan(0.036);
    expect(whole.gaugeNoiseMm).toBeLessThan(0.01);
    expect(examined(300, () => 1.75).gaugeNoiseMm).toBeNull();
  });

  it('says nothing by readings that count as not measured, of a frozen gauge or after it shifted', () => {
    const dusty = examined(60_000, (mm) => (mm > 10_000 && mm < 20_000 ? 1.82 : noisy(mm) + (mm < 40_000 ? 0 : 0.06)));
    expect(dusty.found.map(({ kind, doubt }) => [kind, doubt])).toContainEqual(['unknown', 'gaugeShifted']);
    expect(dusty.statistics?.tolerance).toMatchObject({ within: 1 });
    expect(dusty.statistics?.unknownMm).toBeCloseTo(30_000, -2);
    expect(dusty.flow?.mean).toBeCloseTo(0, 3);
    expect(dusty.trends).toEqual([]);
  });

  it.each([
    ['a section of an unknown kind', 'found.0.kind', 'marked'],
    ['a section without a place', 'found.0.toMm', undefined],
    ['a section that ends before it starts', 'found.0.toMm', -1e9],
    ['a section at an impossible time', 'found.0.fromTimeMs', 1e300],
    ['an unknown verdict', 'found.0.verdict', 'perfect'],
    ['null instead of a section', 'found.0', null],
    ['statistics without figures', 'statistics', {}],
    ['text instead of a capability index', 'statistics.capability.cp.value', 'high'],
    ['text in a histogram', 'statistics.histogram.edgesMm', ['a']],
    ['a flow without windows', 'flow.worst', undefined],
    ['an ovality without a place', 'ovality.largestAtMm', undefined],
    ['a trend without a stretch', 'trends.0', { kind: 'drift' }],
    ['a gauge fault of an unknown kind', 'troubles.0.kind', 'constructor'],
    ['no end of the strand', 'toGaugeMm', undefined],
  ])('is rejected if it has %s', (_what, path, value) => {
    const one = JSON.parse(JSON.stringify(whole));
    const names = path.split('.');
    const last = names.pop() ?? '';
    const holder = names.reduce((inside, name) => inside[name], one);
    expect(holder).toHaveProperty(last);
    holder[last] = value;
    expect(examinationFrom(JSON.parse(JSON.stringify(one)))).toBeNull();
  });

  it.each([[null], [7], ['text'], [[]], [{}]])('is rejected if it is %j', (stored) => {
    expect(examinationFrom(stored)).toBeNull();
  });
});
