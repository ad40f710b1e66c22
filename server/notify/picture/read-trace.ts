import type { PictureOf } from '../../calling/call-message.ts';
import type { RecordReader, SampleColumnsReader } from '../../monitor/ports.ts';
import type { Trace } from './trace-picture.ts';

/** Strand shown on either side of a section, mm; of a long one as much as it is long itself, up to the second. */
const BESIDE_MM = 250;
const BESIDE_MAX_MM = 5000;

export interface TraceParts {
  readonly reader: Pick<RecordReader, 'spools'>;
  readonly samples: SampleColumnsReader;
  limits(): Trace['limits'];
}

/** The readings around a place on a spool; null = there are none. */
export async function readTrace(of: PictureOf, parts: TraceParts): Promise<Trace | null> {
  const spool = parts.reader.spools(of.runId).find(({ ordinal }) => ordinal === of.spoolOrdinal);
  if (spool === undefined) return null;
  const beside = Math.min(BESIDE_MAX_MM, Math.max(BESIDE_MM, of.lengthMm));
  const from = Math.max(0, of.fromMm - beside);
  const toMm = of.fromMm + of.lengthMm;
  const to = toMm + beside;
  const { startGaugeMm } = spool;
  const { gaugeMm, values } = await parts.samples.readings(of.runId, startGaugeMm + from, startGaugeMm + to, ['d']);
  const diameterMm = values.d;
  const last = gaugeMm.at(-1);
  if (diameterMm === undefined || last === undefined) return null;
  const positionMm = gaugeMm.map((mm) => mm - startGaugeMm);
  return {
    fromSpoolMm: from,
    // Of a section that is still at the gauge nothing lies beyond it.
    toSpoolMm: Math.max(Math.min(to, last - startGaugeMm), from + beside),
    positionMm,
    diameterMm,
    section: { fromMm: of.fromMm, toMm },
    limits: parts.limits(),
  };
}
