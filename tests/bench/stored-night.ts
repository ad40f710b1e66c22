import type { Layout, Reading } from '../../server/reading/reading.ts';
import { openStore } from '../../server/store/index.ts';

export const NIGHT_HOURS = 8;
export const NIGHT_SPEED_MM_PER_S = 35;
const RATE_HZ = 50;

/** A run in progress: eight hours of it are stored, and the board sends the rest. */
export async function writeNight(folder: string, source: string): Promise<void> {
  const store = openStore({ folder });
  const names = ['d', 't1', 's1', 'p1', 'v', 'len'] as const;
  const layout: Layout = {
    signals: names.map((name) => ({ name, role: name, unit: '' })),
    diameter: 0,
    diameterX: -1,
    diameterY: -1,
    speed: 4,
    lengthCounter: 5,
    screwSpeed: -1,
    turns: -1,
    zones: [{ zone: 1, temperature: 1, setpoint: 2, power: 3, fault: -1 }],
  };
  const count = NIGHT_HOURS * 3600 * RATE_HZ;
  const endMs = Date.now() - 2000;
  const startMs = endMs - NIGHT_HOURS * 3_600_000;
  const run = store.writer.beginRun({
    startedMs: startMs,
    timeZone: 'UTC',
    sourceTitle: `TCP ${source.replace('tcp:', '')}`,
  });
  store.writer.saveStatedStage(run.id, 'winding');
  store.writer.beginSpool({ runId: run.id, startGaugeMm: 0, startedMs: startMs });
  let random = 1;
  const noise = () => {
    random = (Math.imul(random, 1_664_525) + 1_013_904_223) >>> 0;
    return random / 2 ** 32 - 0.5;
  };
  const round = (value: number, digits: number) => Number(value.toFixed(digits));
  for (let i = 0; i < count; i++) {
    const mm = (i * NIGHT_SPEED_MM_PER_S) / RATE_HZ;
    // A slow wander, noise, and a blob about every 40 m.
    const blob = mm % 40_000 < 15 ? 0.3 : 0;
    const d = 1.75 + 0.012 * Math.sin(mm / 3000) + 0.03 * noise() + blob;
    const values = [
      round(d, 3),
      round(195 + noise(), 1),
      195,
      round(0.4 + 0.05 * noise(), 2),
      NIGHT_SPEED_MM_PER_S,
      round(mm, 1),
    ];
    const reading: Reading = {
      timeMs: startMs + (i * 1000) / RATE_HZ,
      layout,
      values,
      lostBefore: 0,
      restarted: false,
    };
    store.samples.append(run.id, reading, mm);
    if (i % 50_000 === 0) store.tick(i);
  }
  store.samples.flush();
  await store.close();
}
