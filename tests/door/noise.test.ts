import { describe, expect, it } from 'vitest';
import { seeded } from '../chance.ts';
import { Bench } from '../reading/intake-bench.ts';
import { SKETCHES } from './sketches.ts';

const CYCLES = 3000;
const DAMAGED_SHARE = 0.15;

describe.each(SKETCHES)('a sketch that prints $name, over a noisy cable', (sketch) => {
  it('reads no number that the damaged line does not contain, and gets no new fields', () => {
    const random = seeded(7);
    const clean = new Bench();
    const noisy = new Bench();
    const sent = new Map<string, Set<number>>();
    let damaged = 0;
    let digits = 0;
    for (let i = 0; i < CYCLES; i++) {
      const bytes = Buffer.from(sketch.print(i / sketch.linesPerS, i));
      clean.bytes(bytes);
      // The first lines teach the form.
      if (i < 60 || random() > DAMAGED_SHARE) {
        noisy.bytes(bytes);
        continue;
      }
      damaged++;
      const damage = damageOf(bytes, random);
      if (damage.isDigit) digits++;
      noisy.bytes(damage.bytes);
    }
    for (const { layout, values } of clean.readings)
      for (const [k, { name }] of layout.signals.entries())
        sent.set(name, (sent.get(name) ?? new Set()).add(values[k] ?? Number.NaN));
    const wrong = noisy.readings.filter(({ layout, values }) =>
      values.some((value, k) => !Number.isNaN(value) && !sent.get(layout.signals[k]?.name ?? '')?.has(value)),
    );
    expect(damaged).toBeGreaterThan(300);
    expect(wrong.length).toBeLessThanOrEqual(digits);
    expect(noisy.readings.length).toBeGreaterThan(0.75 * clean.readings.length);
    expect(noisy.intake.seenFields().map(({ name }) => name)).toEqual(
      clean.intake.seenFields().map(({ name }) => name),
    );
    expect(noisy.intake.shape).toBe(clean.intake.shape);
  });
});

/** One flipped bit, or one lost byte, anywhere in what was printed. `isDigit`: a digit is lost, or became another. */
function damageOf(bytes: Buffer, random: () => number): { readonly bytes: Buffer; readonly isDigit: boolean } {
  const at = Math.floor(random() * bytes.length);
  const isDigit = (byte: number | undefined) => byte !== undefined && byte >= 48 && byte <= 57;
  if (random() < 0.3)
    return { bytes: Buffer.concat([bytes.subarray(0, at), bytes.subarray(at + 1)]), isDigit: isDigit(bytes[at]) };
  const copy = Buffer.from(bytes);
  copy[at] = (copy[at] ?? 0) ^ (1 << Math.floor(random() * 8));
  return { bytes: copy, isDigit: isDigit(bytes[at]) && isDigit(copy[at]) };
}
