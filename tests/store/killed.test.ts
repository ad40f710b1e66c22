import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { fileURLToPath } from 'node:url';
import Sqlite from 'better-sqlite3';
import { beforeAll, describe, expect, it } from 'vitest';
import { DATABASE_FILE } from '../../server/store/database.ts';
import { openStore } from '../../server/store/index.ts';
import { IS_LONG_CHECK } from '../long-check.ts';
import { builtStore } from './built-store.ts';
import { inFolder, randomOf } from './readings.ts';

const WRITER = fileURLToPath(new URL('./killed-writer.js', import.meta.url));
const BLOCK_READINGS = 2048;
const KILLS = IS_LONG_CHECK ? 40 : 2;
let storeUrl: URL;
beforeAll(() => {
  storeUrl = builtStore();
});

/** Runs a writer on the folder and kills it after `ms` of writing. @returns what it had acknowledged */
async function writeAndKill(folder: string, ms: number): Promise<{ text: [number, number][]; ticked: number }> {
  const child = spawn(process.execPath, [WRITER, storeUrl.href, folder], { stdio: ['ignore', 'pipe', 'inherit'] });
  let output = '';
  let timer: NodeJS.Timeout | undefined;
  child.stdout.on('data', (chunk: Buffer) => {
    output += chunk;
    // The time counts from when it has opened the store.
    timer ??= setTimeout(() => child.kill('SIGKILL'), ms);
  });
  const [, signal] = await once(child, 'close');
  clearTimeout(timer);
  expect(signal).toBe('SIGKILL');
  // The last line may be truncated.
  const lines = output
    .split('\n')
    .slice(0, -1)
    .map((line) => line.split(' '));
  const numbers = (what: string) => lines.filter(([w]) => w === what).map(([, ...rest]) => rest.map(Number));
  return {
    text: numbers('word').map(([id, at]) => [id!, at!]),
    ticked: Math.max(0, ...numbers('ticked').map(([i]) => i!), ...numbers('opened').map(([i]) => i!)),
  };
}

describe('kill -9', () => {
  it(`loses at most the last second of readings and no entry of a user, ${KILLS} times at random moments`, async () => {
    await inFolder(async (folder) => {
      const random = randomOf(42);
      const text = new Map<number, number>();
      let before = 0;
      // More than a whole block must have been written, which takes a slow machine more rounds.
      for (let kill = 0; kill < KILLS || before <= BLOCK_READINGS; kill++) {
        const { text: heard, ticked } = await writeAndKill(folder, 5 + random() ** 2 * 350);
        for (const [id, at] of heard) text.set(id, at);

        // Unrepaired, as a second process sees it.
        const look = kill % 2 === 0 ? openStore({ folder }) : openStore({ folder, readOnly: true });
        const run = look.writer.unfinishedRun();
        if (run) {
          const { timeMs, gaugeMm, values } = await look.columns.readings(run.run.id, 0, 1e12, ['d', 'v']);
          // All acknowledged seconds are there, and at most one more that was being written.
          expect(timeMs.length).toBeGreaterThanOrEqual(ticked);
          expect(timeMs.length).toBeLessThanOrEqual(ticked + 50);
          expect(timeMs.length).toBeGreaterThanOrEqual(before);
          before = timeMs.length;
          const wrong = timeMs.findIndex(
            (t, i) =>
              t !== 1_750_000_000_000 + i * 20 ||
              gaugeMm[i] !== i / 2 ||
              values.d![i] !== 1.7 + (i % 100) / 1000 ||
              !Object.is(values.v![i], i % 11 === 0 ? Number.NaN : i / 10),
          );
          expect(wrong).toBe(-1);
          const stated = new Map(look.reader.statedSections(run.run.id).map((s) => [s.id, s]));
          for (const [id, at] of text) expect(stated.get(id)?.note).toBe(`at ${at}`);
        }
        await look.close();
      }
      expect(text.size).toBeGreaterThan(KILLS);
      const db = new Sqlite(`${folder}/${DATABASE_FILE}`, { readonly: true });
      expect(db.pragma('integrity_check', { simple: true })).toBe('ok');
      db.close();
    });
  }, 120_000);
});
