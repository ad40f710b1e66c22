import { describe, expect, it } from 'vitest';
import { effectText } from '../../server/nights/effect-text.ts';
import { effectsOf } from '../../server/nights/effects.ts';
import { LINE_FIELD, type Night, type OutcomeKey } from '../../server/nights/outcomes.ts';
import { suggestionOf } from '../../server/nights/suggestion.ts';
import type { Values } from '../../server/preparation/fields.ts';
import { normal, seeded } from '../chance.ts';
import { IS_LONG_CHECK } from '../long-check.ts';

function poisson(random: () => number, mean: number): number {
  const end = Math.exp(-mean);
  let count = 0;
  for (let p = random(); p > end; p *= random()) count++;
  return count;
}

/**
 * Nights of a made-up workshop. `logRate`: blobs per 100 m on a logarithmic scale; nights prepared alike differ by 0.35 on it. Their
 * good strand (log odds) and the spread of their diameter (logarithm) follow it, and differ by 0.5 and 0.15 of their own.
 */
function madeUp(nights: number, seed: number, logRate: (values: Values) => number): Night[] {
  const random = seeded(seed);
  const bell = normal(random);
  const ownBell = normal(seeded(seed + 100_000));
  const one = <T>(list: readonly T[]) => list[Math.floor(random() * list.length)]!;
  return Array.from({ length: nights }, () => {
    const values = {
      dryingH: one([0, 4, 8, 12]),
      sieveMm: one([0, 4]),
      magnet: random() < 0.5,
      colour: one(['grey', 'white', 'green']),
      zone2C: one([185, 190, 200]),
    };
    const measuredMm = 40_000 + 160_000 * random();
    const mean = (Math.exp(logRate(values) + 0.35 * bell()) * measuredMm) / 100_000;
    const blobs = poisson(random, mean);
    const odds = Math.exp(5 - logRate(values) + 0.5 * ownBell());
    const diameterSdMm = 0.01 * Math.exp(logRate(values) / 4 + 0.15 * ownBell());
    return { values, blobs, measuredMm, keptShare: odds / (1 + odds), diameterSdMm };
  });
}

const outcomesOf = (nights: readonly Night[]) => {
  const found = effectsOf(nights);
  if (!found.known) throw new Error(found.why);
  return found;
};
/** What came of one outcome. */
const known = (nights: readonly Night[], key: OutcomeKey = 'blobs') =>
  outcomesOf(nights).outcomes.find((one) => one.key === key)!;

/** Drying helps to 8 h, then nothing; zone 2 at 200 °C makes blobs; sieve, magnet and colour do nothing. */
const HIDDEN = ({ dryingH, zone2C }: Values): number =>
  Math.log(13) - (Number(dryingH) >= 4 ? 0.6 : 0) - (Number(dryingH) >= 8 ? 0.6 : 0) + (zone2C === 200 ? 0.9 : 0);

describe('what the nights show', () => {
  it('says of one or two nights, and of nights prepared alike, that they show nothing', () => {
    const nights = madeUp(30, 1, HIDDEN);
    for (const [n, start] of [
      [0, 'There is no night'],
      [1, 'One night cannot show'],
      [2, '2 nights cannot show'],
    ] as const)
      expect(effectsOf(nights.slice(0, n))).toEqual({
        known: false,
        why: expect.stringMatching(`^${start}`),
      });
    const alike = effectsOf(nights.map((night) => ({ ...night, values: { dryingH: 4 } })));
    expect(alike).toEqual({ known: false, why: expect.stringContaining('prepared alike') });
    const clean = effectsOf(nights.map((night) => ({ ...night, blobs: 0 })));
    // Without a blob there is nothing to explain, but good strand and spread still count.
    expect(clean.known && clean.outcomes.map(({ key }) => key)).toEqual(['good', 'spread']);
    const unmeasured = effectsOf(nights.map((night) => ({ ...night, diameterSdMm: null })));
    expect(unmeasured.known && unmeasured.outcomes.map(({ key }) => key)).toEqual(['blobs', 'good']);
  });

  it('finds the hidden truth of sixty nights, and nothing else', () => {
    const nights = madeUp(60, 3, HIDDEN);
    const shown = (outcome: OutcomeKey) =>
      known(nights, outcome)
        .fields.filter(({ finding }) => finding === 'shown')
        .map(({ key }) => key)
        .toSorted();
    expect([shown('blobs'), shown('good'), shown('spread')]).toEqual([
      ['dryingH', 'zone2C'],
      ['dryingH', 'zone2C'],
      ['dryingH', 'zone2C'],
    ]);
    const { fields, nightsDifferBy } = known(nights);
    expect(nightsDifferBy.lower).toBeLessThan(Math.exp(0.35));
    expect(nightsDifferBy.upper).toBeGreaterThan(Math.exp(0.35));
    const rates = fields.find(({ key }) => key === 'dryingH')!.levels.map(({ estimate }) => estimate);
    const [none, , eight, twelve] = rates;
    expect(eight!.value).toBeLessThan(none!.value / 2);
    // More than 8 h does nothing: the intervals overlap.
    expect(twelve!.upper).toBeGreaterThan(eight!.value);
    expect(eight!.upper).toBeGreaterThan(twelve!.value);
  });

  it('says which fields were always changed together', () => {
    const nights = madeUp(30, 5, HIDDEN).map((night) => ({
      ...night,
      values: { dryingH: night.values.dryingH!, sieveMm: Number(night.values.dryingH) >= 4 ? 4 : 0 },
    }));
    const { fields } = known(nights);
    expect(fields.map(({ key, changedWith }) => [key, changedWith]).toSorted()).toEqual([
      ['dryingH', ['sieveMm']],
      ['sieveMm', ['dryingH']],
    ]);
  });

  it('counts a night whose field is not known as average, and leaves out a field that is hardly ever known', () => {
    const nights = madeUp(30, 6, HIDDEN).map((night, i) => {
      const { dryingH, magnet } = night.values;
      return { ...night, values: { ...(i % 5 > 0 && { dryingH: dryingH! }), ...(i % 5 === 0 && { magnet: magnet! }) } };
    });
    const { leftOut } = outcomesOf(nights);
    expect(known(nights).fields.map(({ key }) => key)).toEqual(['dryingH']);
    expect(leftOut).toEqual(['magnet']);
  });
});

describe('the advice', () => {
  it('says in one sentence what a field did, in agreement with its interval', () => {
    const drying = known(madeUp(60, 3, HIDDEN)).fields.find(({ key }) => key === 'dryingH')!;
    const { value, lower, upper } = drying.levels[drying.largest.to]!.estimate;
    const text = effectText('blobs', drying);
    expect(text).toContain('went with fewer blobs');
    expect(text).toContain(`${value.toFixed(1)} per 100 m (95 %: ${lower.toFixed(1)} to ${upper.toFixed(1)})`);
    expect(effectText('blobs', { ...drying, finding: 'perhaps' })).toContain('It may be chance');
    const good = known(madeUp(60, 3, HIDDEN), 'good').fields.find(({ key }) => key === 'dryingH')!;
    expect(effectText('good', good)).toMatch(/went with more good strand: \d+(\.\d)? → \d+\.\d % \(95 %: /);
    const spread = known(madeUp(60, 3, HIDDEN), 'spread').fields.find(({ key }) => key === 'dryingH')!;
    expect(effectText('spread', spread)).toMatch(/went with a steadier diameter: σ 0\.\d{3} → 0\.\d{3} mm/);
    expect(effectText('blobs', { ...drying, finding: 'notShown', changedWith: ['sieveMm'] })).toMatch(
      /^Drying time: no effect is shown\. .* cannot tell which of them did it\.$/,
    );
  });

  it('goes a step further where the last step helped, and not where it did not', () => {
    // Up to 8 h only, so that the best is the most extreme value tried.
    const short = madeUp(60, 3, HIDDEN).filter(({ values }) => values.dryingH !== 12);
    const further = suggestionOf(known(short), 100_000)!;
    expect(further).toMatchObject({
      what: 'Try drying time 10 h against 8 h, 2 nights of each in turn, with all else the same.',
      costs: '4 nights and about 400 m of strand; 2 of them each with 2 h more drying.',
    });
    expect(suggestionOf(known(madeUp(60, 3, HIDDEN)), 100_000)!.what).not.toContain('drying time');
  });
});

it('takes the line as a field, but never suggests another line', () => {
  const both = ['Garage', 'Attic'].flatMap((line, i) =>
    madeUp(30, 7 + i, (values) => HIDDEN(values) + i).map((night) => ({
      ...night,
      values: { ...night.values, [LINE_FIELD]: line },
    })),
  );
  const blobs = known(both);
  const line = blobs.fields.find(({ key }) => key === LINE_FIELD)!;
  // The attic makes e times as many blobs as the garage.
  expect(line.finding).toBe('shown');
  const [garage, attic] = ['Garage', 'Attic'].map((name) => line.levels.find(({ value }) => value === name)!);
  expect(attic!.estimate.value / garage!.estimate.value).toBeCloseTo(Math.E, 0);
  expect(blobs.fields.find(({ key }) => key === 'dryingH')!.finding).toBe('shown');
  expect(suggestionOf({ ...blobs, fields: [line] }, 100_000)).toBeNull();
  expect(suggestionOf({ ...blobs, fields: [{ ...line, finding: 'notShown' }] }, 100_000)).toBeNull();
});

const YEARS = IS_LONG_CHECK ? 500 : 40;

describe(`${YEARS} made-up years of thirty nights`, () => {
  it('show an effect that is not there in at most one of a hundred', () => {
    let falseFindings = 0;
    for (let seed = 1; seed <= YEARS; seed++)
      if (
        outcomesOf(madeUp(30, seed, () => Math.log(6))).outcomes.some(({ fields }) =>
          fields.some(({ finding }) => finding === 'shown'),
        )
      )
        falseFindings++;
    // 1 %, with what chance adds in so many years: three standard deviations.
    expect(falseFindings / YEARS).toBeLessThan(0.01 + 3 * Math.sqrt((0.01 * 0.99) / YEARS));
  });

  it('have intervals that hold the truth, and find what is there', () => {
    let [held, all, found, spreadHeld] = [0, 0, 0, 0];
    for (let seed = 1001; seed <= 1000 + YEARS; seed++) {
      const { fields, nightsDifferBy } = known(madeUp(30, seed, HIDDEN));
      if (nightsDifferBy.lower <= Math.exp(0.35) && nightsDifferBy.upper >= Math.exp(0.35)) spreadHeld++;
      for (const { key, levels, largest } of fields) {
        const at = (i: number) => HIDDEN({ dryingH: 0, zone2C: 185, [key]: levels[i]!.value });
        const truth = Math.exp(at(largest.to) - at(largest.from));
        all++;
        if (truth >= largest.ratio.lower && truth <= largest.ratio.upper) held++;
      }
      if (fields.find(({ key }) => key === 'dryingH')!.finding === 'shown') found++;
    }
    expect(spreadHeld / YEARS).toBeGreaterThan(0.9);
    expect(held / all).toBeGreaterThan(0.94);
    // Half of the allowed chance is for the other outcomes, which costs a little.
    expect(found / YEARS).toBeGreaterThan(0.5);
  });
});
