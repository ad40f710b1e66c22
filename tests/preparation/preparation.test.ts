import { describe, expect, it } from 'vitest';
import { designOf } from '../../server/nights/design.ts';
import { changesFrom } from '../../server/nights/trend-figures.ts';
import { checkedValues, preparationOnly, valuesText } from '../../server/preparation/fields.ts';
import { readPreparation } from '../../server/preparation/read-text.ts';
import { Problem } from '../../server/problem/problem.ts';

const refusal = (values: Parameters<typeof checkedValues>[0]): Problem => {
  try {
    checkedValues(values);
  } catch (thrown) {
    if (thrown instanceof Problem) return thrown;
  }
  throw new Error('it was accepted');
};

describe('values of preparation fields', () => {
  it('hold one value for all ways to say that nothing was dried', () => {
    for (const typed of ['Not dried', 'undried', 'wet', '0 h', '0', 0, 'none'])
      expect(checkedValues({ dryingH: typed })).toEqual({ dryingH: 0 });
    for (const text of ['Not dried', 'undried', 'fed wet', 'dried 0 h', 'Un-dried'])
      expect(readPreparation(`sorted, ${text}`)).toEqual({ values: { dryingH: 0 }, rest: 'sorted' });
  });

  // Conversions by hand: 480 min = 8 h, 122 °F = 50 °C, 400 µm = 0.4 mm, 1.8 m/min = 30 mm/s, 1 in = 25.4 mm exactly.
  it('convert known units', () => {
    expect(
      checkedValues({ dryingH: '480 min', dryingC: '122 °F', sieveMm: '400 µm', speedMmPerS: '1,8 m/min' }),
    ).toEqual({ dryingH: 8, dryingC: 50, sieveMm: 0.4, speedMmPerS: 30 });
    expect(checkedValues({ sieveMm: '1 in', wasteAgeMonths: '2 years' })).toEqual({
      sieveMm: 25.4,
      wasteAgeMonths: 24,
    });
  });

  it('refuse another unit and impossible values, and point to the field', () => {
    expect(refusal({ dryingH: '8 kg' })).toMatchObject({
      message: '“8 kg” cannot be read as drying time.',
      remedy: 'Give a number in h.',
      pointer: '/dryingH',
    });
    expect(refusal({ dryingC: 'none' }).pointer).toBe('/dryingC');
    expect(refusal({ newPelletsPercent: 130 }).message).toBe('New pellets of 130 % is outside 0 to 100 %.');
    expect(refusal({ dryingH: Number.NaN }).pointer).toBe('/dryingH');
    expect(refusal({ magnet: 'strong' }).message).toBe('Magnet is yes or no, not “strong”.');
    expect(refusal({ 'a/b [mm]': 'x'.repeat(61) }).pointer).toBe('/a~1b [mm]');
  });

  it('accept own fields with a unit, and say all in words', () => {
    const values = checkedValues({ 'Shredder screen [mm]': '6', Shaker: 'on', dryingH: 8, dryingC: 50, magnet: false });
    expect(values).toEqual({ 'Shredder screen [mm]': 6, Shaker: 'on', dryingH: 8, dryingC: 50, magnet: false });
    expect(valuesText(values)).toBe('dried 8 h at 50 °C, no magnet, shaker on, shredder screen 6 mm');
  });
});

describe('the material fed', () => {
  it('is a fact of one run in kg, and no way of preparing it', () => {
    // 1 lb = 0.45359237 kg exactly (NIST SP 811, appendix B.8).
    expect(checkedValues({ fedKg: '500 g' })).toEqual({ fedKg: 0.5 });
    expect(checkedValues({ fedKg: '2 lb' })).toEqual({ fedKg: 0.907185 });
    expect(valuesText({ dryingH: 8, fedKg: 1.2 })).toBe('dried 8 h, 1.2 kg fed');
    expect(preparationOnly({ dryingH: 8, fedKg: 1.2 })).toEqual({ dryingH: 8 });
    const { factors, leftOut } = designOf([
      { dryingH: 4, fedKg: 1 },
      { dryingH: 8, fedKg: 1.5 },
    ]);
    const night = (fedKg: number) => ({ material: '', values: { fedKg } });
    expect(changesFrom(night(1), night(1.5))).toEqual([]);
    expect([factors.map(({ key }) => key), leftOut]).toEqual([['dryingH'], []]);
  });
});

describe('texts of old runs', () => {
  it('are read step by step; what is no field stays as it was written', () => {
    expect(
      readPreparation('Sorted by hand, shredded to 4 mm, sieved to 4 mm, dried 2,5 h at 55 °C; 30 % new pellets'),
    ).toEqual({
      values: { sieveMm: 4, dryingH: 2.5, dryingC: 55, newPelletsPercent: 30 },
      rest: 'Sorted by hand, shredded to 4 mm',
    });
    expect(
      readPreparation(
        'No magnet. Not sieved. Die at 195 °C, zone 2 190 °C, 1.8 m/min, grey, extruded twice, waste 6 months old',
      ),
    ).toEqual({
      values: {
        magnet: false,
        sieveMm: 0,
        dieC: 195,
        zone2C: 190,
        speedMmPerS: 30,
        colour: 'grey',
        timesExtruded: 2,
        wasteAgeMonths: 6,
      },
      rest: '',
    });
  });

  it('are not guessed at where they are ambiguous', () => {
    for (const text of [
      'dried 4-6 h',
      'dried 4 h at 50 °C then 2 h at 60 °C',
      'dried overnight',
      'sieved',
      'about 30 % new pellets',
      'sieved 20 mesh',
    ])
      expect(readPreparation(text)).toEqual({ values: {}, rest: text });
    expect(readPreparation('dried 4 h, dried 6 h')).toEqual({ values: { dryingH: 4 }, rest: 'dried 6 h' });
  });
});
