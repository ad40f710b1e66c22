import type { Layout } from '../../server/reading/reading.ts';

/** Channels of a generated reading with the digits after the point that a microcontroller prints. */
export const SIGNALS = [
  { name: 'd', unit: 'mm', digits: 3 },
  { name: 't1', unit: '°C', digits: 1 },
  { name: 't2', unit: '°C', digits: 1 },
  { name: 't3', unit: '°C', digits: 1 },
  { name: 'p1', unit: '', digits: 2 },
  { name: 'p2', unit: '', digits: 2 },
  { name: 'p3', unit: '', digits: 2 },
  { name: 'v', unit: 'mm/s', digits: 1 },
] as const;

/** Readings in a batch: what is in memory at a time. */
const BATCH = 50_000;

/** Columns of a batch; the arrays are filled again and again. */
export interface Batch {
  count: number;
  readonly timeMs: Float64Array;
  readonly gaugeMm: Float64Array;
  /** In the order of `SIGNALS`. */
  readonly values: readonly Float64Array[];
}

export const LAYOUT: Layout = {
  signals: SIGNALS.map(({ name, unit }) => ({ name, role: null, unit })),
  diameter: 0,
  diameterX: -1,
  diameterY: -1,
  speed: 7,
  lengthCounter: -1,
  screwSpeed: -1,
  turns: -1,
  zones: [],
};

/**
 * Readings at 50 Hz whose statistics are those of the simulator: white noise of the gauge on a slow wander, zones that
 * are read ten times a second and wander by tenths, power in hundredths, a puller that holds its speed. Much faster
 * than the simulator, and repeatable: the same seed gives the same readings.
 */
export function* generatedNight(readings: number, seed = 7): Generator<Batch> {
  const gauss = gaussian(seed);
  const values = SIGNALS.map(() => new Float64Array(BATCH));
  const [d, t1, t2, t3, p1, p2, p3, v] = values as [Float64Array, ...Float64Array[]];
  const batch: Batch = { count: 0, timeMs: new Float64Array(BATCH), gaugeMm: new Float64Array(BATCH), values };
  const temperatures = [t1!, t2!, t3!];
  const powers = [p1!, p2!, p3!];
  const wander = [0, 0, 0];
  const shown = [175, 190, 195];
  const power = [0.36, 0.36, 0.42];
  let diameterWander = 0;
  let speed = 35.1;
  let gaugeMm = 0;
  let timeMs = 1_750_000_000_000;
  for (let done = 0; done < readings; done += BATCH) {
    batch.count = Math.min(BATCH, readings - done);
    for (let i = 0; i < batch.count; i++) {
      timeMs += 20 + 0.05 * gauss();
      diameterWander = 0.9995 * diameterWander + 0.0004 * gauss();
      if (i % 250 === 0) speed = Math.round((35.1 + 0.05 * gauss()) * 10) / 10;
      gaugeMm += speed * 0.02;
      batch.timeMs[i] = Math.round(timeMs * 10) / 10;
      batch.gaugeMm[i] = Math.round(gaugeMm * 100) / 100;
      d[i] = Math.round((1.75 + diameterWander + 0.008 * gauss()) * 1000) / 1000;
      v![i] = speed;
      for (let zone = 0; zone < 3; zone++) {
        if ((i + zone) % 5 === 0) {
          wander[zone] = 0.995 * wander[zone]! + 0.03 * gauss();
          shown[zone] = Math.round((175 + 10 * zone + wander[zone]!) * 10) / 10;
          power[zone] = Math.round((0.38 - 0.05 * wander[zone]! + 0.004 * gauss()) * 100) / 100;
        }
        temperatures[zone]![i] = shown[zone]!;
        powers[zone]![i] = power[zone]!;
      }
    }
    yield batch;
  }
}

/** Repeatable standard normal numbers: the polar method of Marsaglia (1964) on a xorshift generator (Marsaglia 2003). */
function gaussian(seed: number): () => number {
  const random = uniform(seed);
  let spare = Number.NaN;
  return () => {
    if (!Number.isNaN(spare)) {
      const value = spare;
      spare = Number.NaN;
      return value;
    }
    for (;;) {
      const x = 2 * random() - 1;
      const y = 2 * random() - 1;
      const s = x * x + y * y;
      if (s >= 1 || s === 0) continue;
      const factor = Math.sqrt((-2 * Math.log(s)) / s);
      spare = y * factor;
      return x * factor;
    }
  };
}

/** Repeatable numbers in [0, 1). */
export function uniform(seed: number): () => number {
  let state = (seed * 2654435761 + 1) | 0 || 1;
  return () => {
    state ^= state << 13;
    state ^= state >>> 17;
    state ^= state << 5;
    return (state >>> 0) / 2 ** 32;
  };
}
