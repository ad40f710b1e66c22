import { describe, expect, it } from 'vitest';
import { relatedReadings } from '../../../server/strand/relation/related-readings.ts';
import { normal as normalFrom, seeded } from '../../chance.ts';
import { IS_LONG_CHECK } from '../../long-check.ts';

const STEP_MS = 15_000;
const STEPS = 512;

function makers(seed: number) {
  const random = seeded(seed);
  const normal = normalFrom(random);
  /** Each value is this share of the one before it, plus noise. */
  const wander = (share: number) => {
    let value = normal() / Math.sqrt(1 - share * share);
    return Float64Array.from({ length: STEPS }, () => {
      value = share * value + normal();
      return value;
    });
  };
  /** A controller that swings: each period is up to 40 % longer or shorter than usual. */
  const swing = (steps = STEPS) => {
    const usual = 14 + random() * 30;
    let [phase, period, end] = [random() * 9, usual, 6.28];
    end += phase;
    return Float64Array.from({ length: steps }, () => {
      phase += (2 * Math.PI) / period;
      if (phase > end) [end, period] = [end + 2 * Math.PI, usual * (0.6 + 0.8 * random())];
      return Math.sin(phase);
    });
  };
  const mixed = () => {
    const [slow, slower] = [wander(0.9), wander(0.999)];
    return slow.map((value, i) => 0.3 * value + 0.1 * slower[i]!);
  };
  return { random, normal, wander, swing, mixed };
}

const NONE = new Float64Array(STEPS);

describe('readings related to the strand', () => {
  const kinds = {
    'without memory': ({ wander }: Makers) => wander(0),
    'with some memory': ({ wander }: Makers) => wander(0.9),
    'with long memory': ({ wander }: Makers) => wander(0.98),
    'that wander off': ({ wander }: Makers) => wander(0.9999),
    'that wander at all speeds': ({ mixed }: Makers) => mixed(),
    'that swing': ({ swing }: Makers) => swing(),
  };
  type Makers = ReturnType<typeof makers>;
  const runs = IS_LONG_CHECK ? 1000 : 8;

  it.each(Object.entries(kinds))('are rarely found among 12 unrelated signals %s', (_, kind) => {
    const made = makers(7);
    let falsely = 0;
    for (let run = 0; run < runs; run++) {
      const diameter = kind(made);
      const bad = NONE.map(() => (made.random() < 0.03 ? made.random() : 0));
      const signals = Array.from({ length: 12 }, (_, i) => ({ name: `x${i}`, values: kind(made) }));
      if (relatedReadings(STEP_MS, diameter, bad, signals).length > 0) falsely += 1;
    }
    expect(falsely).toBeLessThanOrEqual(runs * 0.01);
  });

  it('include a die that swings by 2 K and makes 10 µm', () => {
    const made = makers(3);
    const tries = IS_LONG_CHECK ? 200 : 10;
    let found = 0;
    for (let run = 0; run < tries; run++) {
      // 1 K to either side, 5 µm to either side one minute later, and 5 µm of wander of its own.
      const swing = made.swing(STEPS + 4);
      const own = made.wander(0.9);
      const die = NONE.map((_, i) => 195 + swing[i + 4]! + 0.1 * made.normal());
      const diameter = NONE.map((_, i) => 1.75 + 0.005 * swing[i]! + 0.00176 * own[i]!);
      const others = Array.from({ length: 11 }, (_, i) => ({ name: `x${i}`, values: made.wander(0.9) }));
      const [first] = relatedReadings(STEP_MS, diameter, NONE, [...others, { name: 't3', values: die }]);
      if (first?.signal === 't3' && first.correlation > 0 && Math.abs(first.lagMs - 60_000) <= STEP_MS) found += 1;
    }
    expect(found).toBeGreaterThanOrEqual(tries * 0.9);
  });

  it('include a signal that jumps where the strand is bad', () => {
    const made = makers(5);
    const bad = NONE.map(() => (made.random() < 0.06 ? 0.2 + made.random() : 0));
    const moist = NONE.map((_, i) => 40 + made.normal() + 6 * bad[i]!);
    const found = relatedReadings(STEP_MS, made.wander(0.5), bad, [{ name: 'rh', values: moist }]);
    expect(found).toMatchObject([{ signal: 'rh', strand: 'badStretches', lagMs: 0 }]);
  });

  it('need enough strand, and signals that move', () => {
    const made = makers(1);
    const short = made.wander(0).slice(0, 40);
    expect(relatedReadings(STEP_MS, short, short, [{ name: 't3', values: short }])).toEqual([]);
    const flat = { name: 's3', values: NONE.map(() => 195) };
    const gone = { name: 't3', values: NONE.map(() => Number.NaN) };
    expect(relatedReadings(STEP_MS, made.wander(0), NONE, [flat, gone])).toEqual([]);
  });
});
