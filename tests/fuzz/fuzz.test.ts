import { readdirSync, readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { fuzz, measured } from './fuzz.ts';
import { TARGETS } from './targets.ts';

/** A few cases, always the same; `npm run fuzz` tries others. */
const CASES = 60;
const SEED = 1;
const KEPT = new URL('./cases/', import.meta.url);

describe.each(TARGETS)('fuzzed: $name', (target) => {
  it(`keeps its promises in ${CASES} cases`, async () => {
    const { units, findings } = await fuzz(target, SEED, { cases: CASES });
    expect(findings).toStrictEqual([]);
    expect(units).toBeGreaterThanOrEqual(CASES);
  });

  const kept = readdirSync(KEPT).filter((name) => name.startsWith(`${target.name}-`));
  it.each(kept)('keeps its promises in %s', async (name) => {
    const open = await target.open();
    try {
      const { input } = JSON.parse(readFileSync(new URL(name, KEPT), 'utf8')) as { input: unknown };
      await measured(open, input);
    } finally {
      await open.close();
    }
  });
});
