import { readdirSync, readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { fuzz } from './fuzz.ts';
import { TARGETS } from './targets.ts';

/** The same few cases every time; `npm run fuzz` tries others. */
const SEED = 1;
const KEPT = new URL('./cases/', import.meta.url);
const TIMEOUT_MS = 60_000;

describe.each(TARGETS)('fuzzed: $name', (target) => {
  it(
    `keeps its promises in ${target.casesInTest} cases`,
    async () => {
      const { units, findings } = await fuzz(target, SEED, { cases: target.casesInTest });
      expect(findings).toStrictEqual([]);
      expect(units).toBeGreaterThanOrEqual(target.casesInTest);
    },
    TIMEOUT_MS,
  );

  const kept = readdirSync(KEPT).filter((name) => name.startsWith(`${target.name}-`));
  it.runIf(kept.length > 0)(
    'keeps its promises in every case that once broke one',
    async () => {
      const open = await target.open();
      try {
        for (const name of kept) {
          const { input } = JSON.parse(readFileSync(new URL(name, KEPT), 'utf8')) as { input: unknown };
          await expect(open.attempt(input), name).resolves.toBeGreaterThan(0);
        }
      } finally {
        await open.close();
      }
    },
    TIMEOUT_MS,
  );
});
