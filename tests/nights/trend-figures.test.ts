import { describe, expect, it } from 'vitest';
import { changesFrom, NIGHTS_NEEDED, type NightFigures, trendsOfNights } from '../../server/nights/trend-figures.ts';
import { preparationText, trendText } from '../../web/trends/trend-text.ts';
import { normal, seeded } from '../chance.ts';

/** Drying goes from 2 h to 8 h at night 24; the colour changes from night to night; the gauge is exchanged at night 12. */
function year(): NightFigures[] {
  const bell = normal(seeded(4));
  return Array.from({ length: 48 }, (_, i) => ({
    material: 'White PLA waste',
    values: { dryingH: i < 24 ? 2 : 8, colour: ['white', 'grey', 'green'][i % 3]! },
    blobs: Math.round((i < 24 ? 12 : 4) * Math.exp(0.3 * bell())),
    measuredMm: 100_000,
    woundMm: 100_000,
    keptMm: 70_000,
    diameterMeanMm: (i < 12 ? 1.748 : 1.756) + 0.002 * bell(),
    diameterSdMm: i === 5 ? null : 0.012 + 0.001 * bell(),
    troubles: 0,
  }));
}

const shown = (nights: readonly NightFigures[]) => {
  const view = nights.map((_, i) => ({
    runId: i + 1,
    title: '',
    startedMs: i * 86_400_000,
    timeZone: 'UTC',
    changes: [],
  }));
  return trendsOfNights(nights).map((trend) => ({
    key: trend.key,
    from: trend.periods.map(({ from }) => from),
    text: trendText(asView(trend), view, NIGHTS_NEEDED),
    prepared: preparationText(asView(trend)),
  }));
};
const asView = (trend: ReturnType<typeof trendsOfNights>[number]) => ({
  ...trend,
  values: [...trend.values],
  periods: trend.periods.map((period) => ({ ...period, preparedOtherwise: [...period.preparedOtherwise] })),
});

describe('the trends of a year', () => {
  it('finds the drying and the exchanged gauge, and nothing else', () => {
    const found = Object.fromEntries(shown(year()).map((trend) => [trend.key, trend]));
    expect(found.blobs!.from).toEqual([0, 24]);
    expect(found.blobs!.text).toMatch(/^Since 25 Jan 1970: (3|4|5)\.\d per 100 m, before that 1[1-3] per 100 m\.$/);
    expect(found.blobs!.prepared).toBe('Prepared differently since then: Drying time 2 h → 8 h.');
    // Shown; two noisy nights may be counted to either side.
    expect(found.mean!.from).toHaveLength(2);
    expect(Math.abs(found.mean!.from[1]! - 12)).toBeLessThanOrEqual(2);
    expect(found.mean!.prepared).toBe('');
    expect(found.spread!.from).toEqual([0]);
    expect(found.spread!.text).toMatch(/^No change shown: 0\.012 mm, 95 % sure: 0\.01\d to 0\.01\d\.$/);
    expect(found.good!.text).toBe('No change shown: 70 %, 95 % sure: 70 to 70.');
    expect(found.troubles!.text).toBe('No change shown: 0.0 a night, 95 % sure: 0.0 to 0.0.');
  });

  it('only gives averages of few nights, and leaves out nights in which a figure is not known', () => {
    const few = shown(year().slice(20, 28));
    expect(few.map(({ from }) => from)).toEqual([[0], [0], [0], [0], [0]]);
    expect(few[0]!.text).toMatch(/^On average \d+(\.\d)? per 100 m, 95 % sure: /);
    const thinned = year().map((night) => ({ ...night, diameterSdMm: null }));
    expect(shown(thinned)[2]).toMatchObject({ key: 'spread', from: [], text: 'Not measured on any night.' });
  });

  it('names what was prepared otherwise; what was not entered is no change', () => {
    const [night] = year();
    expect(changesFrom(night!, { material: 'Grey PETG', values: { dryingH: 6, magnet: true } })).toEqual([
      'White PLA waste → Grey PETG',
      'Drying time 2 h → 6 h',
    ]);
    expect(changesFrom(night!, { material: '', values: {} })).toEqual([]);
  });
});
