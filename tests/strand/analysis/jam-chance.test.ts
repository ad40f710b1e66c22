import { describe, expect, it } from 'vitest';
import { jamChance, type PrintStrand } from '../../../server/strand/verdict/jam-chance.ts';
import { atMost, missedByNoiseAtMost, missedShareAtMost } from '../../../server/strand/verdict/missed-blobs.ts';

const strand: PrintStrand = { lengthMm: 330_000, tooThickAtMm: [], inDoubtAtMm: [], unmeasured: [] };
const found = { count: 0, measuredMm: 330_000, pitchMm: 0.6, noiseMm: 0.008 };

describe('whether a print jams', () => {
  it('is certain where its strand is known to contain a stretch that is too thick', () => {
    const chance = jamChance({ ...strand, tooThickAtMm: [250_000, 120_500] }, { ...found, count: 2 }, 300_000)!;
    expect(chance).toMatchObject({ tooThick: 2, firstTooThickAtMm: 120_500 });
    expect(chance.sentence).toBe(
      'A print of 300.0 m will jam: its strand has 2 stretches that are certainly too thick, the first after 120.50 m.',
    );
    const one = jamChance({ ...strand, tooThickAtMm: [250_000, 120_500] }, { ...found, count: 2 }, 120_501)!;
    expect(one.sentence).toContain('will jam: its strand has one stretch that is certainly too thick');
  });

  it('depends on where the stretches are, not on how many', () => {
    const chance = jamChance({ ...strand, tooThickAtMm: [120_500, 250_000] }, { ...found, count: 2 }, 120_500)!;
    expect(chance.tooThick).toBe(0);
    expect(chance.sentence).not.toMatch(/uncertainty of the gauge|not reliably measured/);
    expect(jamChance(strand, found, 1000)!.firstTooThickAtMm).toBeNull();
    expect(chance.sentence).toContain('contains no stretch known to be too thick. The first one comes after 120.50 m.');
    expect(chance.missedAtMost).toBeLessThan(0.05);
  });

  it('is bounded by what the gauge may have missed where nothing was found in measured strand', () => {
    const chance = jamChance(strand, found, 300_000)!;
    const share = missedShareAtMost(0.6, null);
    const expected = atMost(0) * (share / (1 - share)) * (300 / 330);
    expect(chance.missedAtMost).toBeCloseTo(1 - Math.exp(-expected), 12);
    expect(chance.missedAtMost).toBeLessThan(0.05);
    expect(chance.sentence).toMatch(/gauge missed is \d\.\d+ % at most \(95 % confidence\)\.$/);
    // More blobs were found, so more were probably missed.
    expect(jamChance(strand, { ...found, count: 20 }, 300_000)!.missedAtMost).toBeGreaterThan(5 * chance.missedAtMost!);
    expect(jamChance(strand, found, 0)!.missedAtMost).toBe(0);
  });

  it('says what is in doubt, what was not reliably measured, and what is missing', () => {
    const unmeasured = [{ fromMm: 10_000, toMm: 15_000 }];
    const { sentence, unmeasuredMm } = jamChance(
      { ...strand, inDoubtAtMm: [5000, 50_000], unmeasured },
      found,
      12_000,
    )!;
    expect(unmeasuredMm).toBe(2000);
    expect(sentence).toContain('One stretch may be too thick');
    expect(sentence).toContain('2.00 m of it was not reliably measured: it may hide blobs.');
    expect(jamChance({ ...strand, inDoubtAtMm: [5000, 9000] }, found, 12_000)!.sentence).toContain(
      '2 stretches may be',
    );
    const long = jamChance(strand, found, 400_000)!;
    expect(long.sentence).toContain('Only 330.00 m is available, less than it needs.');
    // Strand that is missing cannot contain a blob.
    expect(long.missedAtMost).toBe(jamChance(strand, found, 330_000)!.missedAtMost);
    expect(jamChance({ ...strand, unmeasured: [{ fromMm: -5000, toMm: 1000 }] }, found, 12_000)!.unmeasuredMm).toBe(
      1000,
    );
  });

  it('gives no figure where nothing was measured, or readings are too far apart', () => {
    expect(jamChance(strand, { ...found, measuredMm: 0 }, 1000)).toBeNull();
    expect(jamChance({ ...strand, lengthMm: 0 }, found, 1000)).toBeNull();
    for (const pitchMm of [null, Number.NaN, 0, 40]) {
      const blind = jamChance(strand, { ...found, pitchMm }, 1000)!;
      expect(blind.missedAtMost).toBeNull();
      expect(blind.sentence).toContain('Readings are too far apart to say');
    }
    expect(() => jamChance(strand, found, -1)).toThrow(RangeError);
    expect(() => jamChance(strand, found, Number.NaN)).toThrow(RangeError);
  });

  it('rounds its bound up', () => {
    const { missedAtMost, sentence } = jamChance(strand, { ...found, count: 3, pitchMm: 2 }, 330_000)!;
    const said = Number(/missed is ([\d.]+) %/.exec(sentence)![1]);
    expect(said).toBeGreaterThanOrEqual(100 * missedAtMost!);
    expect(said).toBeLessThan(100 * missedAtMost! + 1);
    const text = (count: number, printMm: number, pitchMm = 0.6) =>
      / is ([\d.]+) % at most/.exec(jamChance(strand, { ...found, count, pitchMm }, printMm)!.sentence)![1];
    expect(text(0, 30_000)).toMatch(/^0\.00\d$/);
    expect(text(20, 330_000, 1)).toMatch(/^\d\.\d$/);
    expect(text(3, 100_000, 3)).toMatch(/^\d\d$/);
  });
});

describe('the share of blobs that a gauge misses', () => {
  it('is that of the blobs measured at full length while every blob has three readings', () => {
    expect(missedShareAtMost(0.1, null)).toBeCloseTo(missedShareAtMost(0.66, null), 12);
    expect(missedShareAtMost(0.66, null)).toBeLessThan(0.01);
  });

  it('is larger the noisier the gauge is, as it was counted', () => {
    const shares = [null, 0.008, 0.02, 0.021, 0.03, 0.031, 0.045].map((noiseMm) => missedShareAtMost(0.1, noiseMm));
    // None of 13,899 and of 1599 with three readings, and 9 of 1241: Garwood's 95 % bounds of 0 and 9 are 3.00 and 15.71.
    const expected = [3.0 / 13_899, 3.0 / 13_899, 3.0 / 13_899, 3.0 / 1599, 3.0 / 1599, 15.71 / 1241, 15.71 / 1241];
    shares.forEach((share, i) => {
      expect(share).toBeCloseTo(expected[i]!, 5);
    });
    expect(missedShareAtMost(2, 0.035)).toBeGreaterThan(missedShareAtMost(2, 0.025));
    expect(missedByNoiseAtMost(0.02)).toBeNull();
    expect(missedByNoiseAtMost(Number.NaN)).toBeNull();
    expect(missedByNoiseAtMost(0.025)).toBeCloseTo(3.0 / 1599, 5);
    const quiet = jamChance(strand, { ...found, count: 5 }, 300_000)!;
    const noisy = jamChance(strand, { ...found, count: 5, noiseMm: 0.035 }, 300_000)!;
    expect(noisy.missedAtMost).toBeGreaterThan(5 * quiet.missedAtMost!);
  });

  it('grows with the distance between readings, up to all', () => {
    const shares = [0.5, 0.7, 1, 1.5, 2, 3, 5, 10, 20, 30, 60].map((mm) => missedShareAtMost(mm, null));
    for (let i = 1; i < shares.length; i++) expect(shares[i]).toBeGreaterThanOrEqual(shares[i - 1]!);
    expect(shares.at(-1)).toBe(1);
    // From 2 to 30 mm, half of all blobs are shorter than √60 = 7.7 mm: shorter than a reading, they can be missed.
    expect(missedShareAtMost(Math.sqrt(60), null)).toBeGreaterThan(0.5);
    expect(missedShareAtMost(Math.sqrt(60), null)).toBeLessThan(0.51);
  });
});
