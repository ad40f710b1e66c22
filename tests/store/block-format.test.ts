import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  BLOCK,
  BlockView,
  DamagedBlock,
  encodeBlock,
  FIRST_SIGNAL,
  GAUGE_COLUMN,
} from '../../server/store/samples/block-format.ts';
import { GROUP } from '../../server/store/samples/column-format.ts';
import { tries } from '../long-check.ts';

/** Encodes one signal with simple axes and decodes it again. */
function roundTrip(values: number[]): number[] {
  const n = values.length;
  const bytes = encodeBlock({
    count: n,
    timeMs: Float64Array.from({ length: n }, (_, i) => 1_700_000_000_000 + i * 20),
    gaugeMm: Float64Array.from({ length: n }, (_, i) => i * 0.5),
    signals: [Float64Array.from(values)],
    breaks: [],
  });
  const out = new Float64Array(n);
  new BlockView(bytes).column(FIRST_SIGNAL)!.all(out, 0);
  return [...out];
}

/** Bytes of one signal of a block. */
function sizeOf(values: number[]): number {
  const n = values.length;
  const axis = Float64Array.from({ length: n }, (_, i) => i);
  const size = (signals: Float64Array[]) =>
    encodeBlock({ count: n, timeMs: axis, gaugeMm: axis, signals, breaks: [] }).length;
  return size([Float64Array.from(values)]) - size([]);
}

/** Values as sensors and sketches send them, and worse. */
const sensible = fc.oneof(
  fc.integer({ min: 1600, max: 1900 }).map((um) => um / 1000),
  fc.integer({ min: -100_000, max: 100_000 }).map((h) => h / 100),
  fc.constant(Number.NaN),
);
const anything = fc.oneof(
  sensible,
  fc.double(),
  fc.constantFrom(0, -0, 5e-324, -5e-324, 1.7976931348623157e308, Infinity, -Infinity, 0.1 + 0.2, 2 ** 53, -(2 ** 60)),
  fc.integer(),
);

describe('a block of readings', () => {
  it('restores any values exactly', () => {
    fc.assert(
      fc.property(fc.array(anything, { minLength: 1, maxLength: 400 }), (values) => {
        expect(roundTrip(values)).toStrictEqual(values);
      }),
      { numRuns: tries(400) },
    );
  });

  it('restores decimals with gaps exactly', () => {
    fc.assert(
      fc.property(fc.array(sensible, { minLength: 1, maxLength: 700 }), (values) => {
        expect(roundTrip(values)).toStrictEqual(values);
      }),
      { numRuns: tries(200) },
    );
  });

  it('restores computed values that differ from a decimal by a few units in the last place', () => {
    const means = Array.from(
      { length: 1000 },
      (_, i) => ((1700 + ((i * 37) % 90)) / 1000 + (1650 + ((i * 53) % 95)) / 1000) / 2,
    );
    const inches = Array.from({ length: 1000 }, (_, i) => ((690 + (i % 17)) / 10_000) * 25.4);
    expect(roundTrip(means)).toStrictEqual(means);
    expect(roundTrip(inches)).toStrictEqual(inches);
    // Raw doubles would take 8000 bytes.
    expect(sizeOf(means)).toBeLessThan(2500);
    expect(sizeOf(inches)).toBeLessThan(2500);
  });

  it('finds any single value, and where rising values pass an edge, by decoding part of a group', () => {
    const steps = fc.constantFrom(
      // A clock, a counter, a strand that stops at times, repeated values, lengths that jump.
      (i: number, r: number) => 20 + (r % 3) / 10 + (i % 97 === 5 ? 60_000 : 0),
      (i: number) => (i % 7 === 0 ? 1 : 0),
      (i: number, r: number) => (Math.floor(i / 60) % 3 === 1 ? 0 : 0.7 + (r % 5) / 100),
      (i: number, r: number) => (i % 5 === 2 ? (r % 40) / 4 : 0),
      (_: number, r: number) => (r % 100 === 0 ? 2_000_000 : r % 3),
      // Computed: slightly off its decimals.
      (_: number, r: number) => ((r % 11) / 10) * 1.1,
      (_: number, r: number) => (r % 1000) / 977,
    );
    fc.assert(
      fc.property(
        steps,
        fc.array(fc.nat(1_000_000), { minLength: 1, maxLength: 700 }),
        fc.array(fc.tuple(fc.nat(), fc.nat(270), fc.boolean(), fc.integer({ min: -1, max: 1 })), { minLength: 20 }),
        (step, chances, questions) => {
          let sum = 1000;
          const values = chances.map((chance, i) => {
            sum += step(i, chance);
            return sum;
          });
          const n = values.length;
          const axis = Float64Array.from(values);
          const bytes = encodeBlock({ count: n, timeMs: axis, gaugeMm: axis, signals: [], breaks: [] });
          let column = new BlockView(bytes).column(GAUGE_COLUMN)!;
          for (const [chance, upTo, after, beside] of questions) {
            // Each query goes to a group that is not decoded yet or only in part.
            if (chance % 3 === 0) column = new BlockView(bytes).column(GAUGE_COLUMN)!;
            const index = chance % n;
            const group = Math.floor(index / GROUP);
            const of = values.slice(group * GROUP, (group + 1) * GROUP);
            const edge = values[index]! + beside / 1000;
            const found = of.findIndex((value) => (after ? value > edge : value >= edge));
            const first = column.firstAt(group, edge, after, upTo);
            expect(first).toBe(found < 0 ? of.length : found);
            expect(column.value(group, index % GROUP, chance % 9)).toBe(values[index]);
          }
        },
      ),
      { numRuns: tries(300) },
    );
  });

  it('restores full groups and the remainder of a full block, with jumps too wide for the code', () => {
    const values = Array.from({ length: BLOCK }, (_, i) => (i % 500 === 0 ? 200_000_000 : (i * 7919) % 23));
    expect(roundTrip(values)).toStrictEqual(values);
    const wide = Array.from({ length: BLOCK }, (_, i) => (i % 2 === 0 ? 0.1 : 4_294_967_295));
    expect(roundTrip(wide)).toStrictEqual(wide);
  });

  it('takes almost no space for constant values, signals sent in turn, and repeated values', () => {
    expect(sizeOf(Array.from({ length: BLOCK }, () => 205))).toBeLessThan(20);
    const inTurn = Array.from({ length: BLOCK }, (_, i) => (i % 10 === 3 ? 200 + (i % 7) / 10 : Number.NaN));
    expect(roundTrip(inTurn)).toStrictEqual(inTurn);
    expect(sizeOf(inTurn)).toBeLessThan(700);
    const held = Array.from({ length: BLOCK }, (_, i) => 200 + ((Math.floor(i / 13) * 31) % 11) / 4);
    expect(roundTrip(held)).toStrictEqual(held);
    expect(sizeOf(held)).toBeLessThan(1300);
  });

  it('stays near the entropy of white noise: a normal diameter with σ = 15 µm takes at most 6.6 bits', () => {
    // Differential entropy of a normal distribution in steps of 1 µm: log2(σ √(2πe)) = 5.95 bits (Cover & Thomas,
    // Elements of Information Theory, example 8.1.2; from memory).
    let seed = 1;
    const uniform = () => {
      seed = (Math.imul(seed, 1664525) + 1013904223) >>> 0;
      return (seed + 0.5) / 2 ** 32;
    };
    const noise = Array.from(
      { length: BLOCK },
      () => Math.round(1750 + 15 * Math.sqrt(-2 * Math.log(uniform())) * Math.cos(2 * Math.PI * uniform())) / 1000,
    );
    expect((sizeOf(noise) * 8) / BLOCK).toBeLessThan(6.6);
    expect(roundTrip(noise)).toStrictEqual(noise);
  });

  it('keeps lost lines and restarts where they were', () => {
    const axis = Float64Array.from({ length: 300 }, (_, i) => i);
    const breaks = [
      { index: 0, lostBefore: 0, restarted: true },
      { index: 130, lostBefore: 4_000_000_000, restarted: false },
      { index: 299, lostBefore: 2, restarted: true },
    ];
    const block = { count: 300, timeMs: axis, gaugeMm: axis, signals: [], breaks };
    expect(new BlockView(encodeBlock(block)).breaks).toStrictEqual(breaks);
    expect(new BlockView(encodeBlock(block, 100, 200)).breaks).toStrictEqual([
      { index: 30, lostBefore: 4_000_000_000, restarted: false },
    ]);
  });

  it('detects every flipped bit and every truncation', () => {
    const axis = Float64Array.from({ length: 200 }, (_, i) => i);
    const bytes = encodeBlock({ count: 200, timeMs: axis, gaugeMm: axis, signals: [axis], breaks: [] });
    for (let bit = 0; bit < bytes.length * 8; bit += 3) {
      const flipped = bytes.slice();
      flipped[bit >> 3]! ^= 1 << (bit & 7);
      expect(() => new BlockView(flipped)).toThrow(DamagedBlock);
    }
    for (let length = 0; length < bytes.length; length += 7) {
      expect(() => new BlockView(bytes.slice(0, length))).toThrow(DamagedBlock);
    }
  });
});
