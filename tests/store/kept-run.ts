import type { Lot } from '../../server/entities/run.ts';
import type { Layout } from '../../server/reading/reading.ts';
import type { Store } from '../../server/store/index.ts';
import { normal, seeded } from '../chance.ts';
import { layoutOf, readingOf } from './readings.ts';

const PITCH_MM = 2;
const READINGS_PER_S = 20;

export interface KeptRun {
  readonly startMs: number;
  readonly lengthMm: number;
  readonly lot: Lot | null;
  readonly blobsEveryMm: number;
  readonly zone2C?: number;
  readonly nominalMm?: number;
  readonly toleranceMm?: number;
  /** Diameters that the gauge tells apart; 0 = any. */
  readonly gaugeStepMm?: number;
}

/** Puts a run with one spool into the record, as the line would have. @returns its number */
export function keepRun(
  store: Store,
  {
    startMs,
    lengthMm,
    lot,
    blobsEveryMm,
    zone2C = 195,
    nominalMm = 1.75,
    toleranceMm = 0.05,
    gaugeStepMm = 0,
  }: KeptRun,
): number {
  const sent = (mm: number) => (gaugeStepMm === 0 ? mm : Math.round(mm / gaugeStepMm) * gaugeStepMm);
  const { writer, samples } = store;
  const layout: Layout = layoutOf(['d', 't2', 's2']);
  const run = writer.beginRun({ startedMs: startMs, timeZone: 'Europe/Vienna', sourceTitle: 'a test' });
  writer.addRunSettings(run.id, {
    fromGaugeMm: 0,
    gaugeToWinderMm: 0,
    densityGPerCm3: 1.24,
    limits: {
      nominalMm,
      toleranceMm,
      hotendLimitMm: nominalMm + 0.15,
      smallestFeedableMm: nominalMm - 0.15,
      strandPresentMm: 1,
      offToleranceLengthMm: 100,
      gaugeUncertaintyMm: 0.01,
    },
  });
  const spool = writer.beginSpool({ runId: run.id, startGaugeMm: 0, startedMs: startMs });
  const next = normal(seeded(startMs % 1_000_003));
  for (let i = 0; i * PITCH_MM <= lengthMm; i++) {
    const mm = i * PITCH_MM;
    const into = (mm % blobsEveryMm) - blobsEveryMm / 2;
    const blobMm = Math.abs(into) < 10 ? 0.3 : 0;
    const timeMs = startMs + (i * 1000) / READINGS_PER_S;
    const values = [sent(nominalMm + 0.008 * next() + blobMm), zone2C + 0.3 * next(), zone2C];
    samples.append(run.id, readingOf(layout, timeMs, values), mm);
  }
  samples.flush();
  const endMs = startMs + (lengthMm / PITCH_MM / READINGS_PER_S) * 1000;
  writer.endSpool(spool.id, lengthMm, endMs);
  writer.endRun(run.id, endMs);
  if (lot !== null) writer.setLot(run.id, lot, endMs, 'a test');
  return run.id;
}
