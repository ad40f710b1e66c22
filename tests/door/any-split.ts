import fc from 'fast-check';
import { expect } from 'vitest';
import { IS_LONG_CHECK } from '../long-check.ts';
import { Bench } from '../reading/intake-bench.ts';

/** However the bytes are cut into chunks, the same readings come of them. */
export function expectSameForAnySplit(text: Uint8Array): void {
  const whole = new Bench().bytes(text).readings.map(({ values }) => values);
  expect(whole.length).toBeGreaterThan(5);
  fc.assert(
    fc.property(fc.array(fc.integer({ min: 1, max: 60 }), { minLength: 1, maxLength: 80 }), (sizes) => {
      const bench = new Bench();
      let at = 0;
      for (const size of sizes) {
        bench.bytes(text.subarray(at, at + size));
        at = Math.min(text.length, at + size);
      }
      bench.bytes(text.subarray(at));
      expect(bench.readings.map(({ values }) => values)).toEqual(whole);
    }),
    { numRuns: IS_LONG_CHECK ? 30 : 10 },
  );
}
