import type { PictureOf, PictureOnSpool } from '../../escalation/message.ts';
import type { RecordReader } from '../../monitor/ports/record.ts';
import type { SampleColumnsReader } from '../../monitor/ports/samples.ts';
import { cutOutsOf } from '../../strand/effective-sections.ts';
import { asCounted, gaugeLengthMm, spoolPositionMm } from '../../strand/position.ts';
import type { Trace } from './trace-picture.ts';

/** Strand shown on either side of a section: its own length, within these bounds. */
const MARGIN_MIN_MM = 250;
const MARGIN_MAX_MM = 5000;

export interface TraceParts {
  readonly reader: Pick<RecordReader, 'spools' | 'runSettings' | 'statedSections'>;
  readonly samples: SampleColumnsReader;
  /** Today's limits, for a run older than the record of its settings. */
  limits(): Trace['limits'];
}

/**
 * The readings around a place on the strand, by position on its spool as the spool's bounds are now, with the limits that
 * were in force when it passed the gauge; null = there are no readings, or it is on no spool.
 */
export async function readTrace(of: PictureOf | PictureOnSpool, parts: TraceParts): Promise<Trace | null> {
  const { reader, samples } = parts;
  const { runId, lengthMm } = of;
  const spools = reader.spools(runId);
  const spool =
    'fromGaugeMm' in of
      ? spools.find(({ startGaugeMm, endGaugeMm }) => {
          return startGaugeMm <= of.fromGaugeMm + lengthMm && of.fromGaugeMm < (endGaugeMm ?? Number.POSITIVE_INFINITY);
        })
      : spools.find(({ ordinal }) => ordinal === of.spoolOrdinal);
  if (spool === undefined) return null;
  const strand = asCounted(spool, cutOutsOf(reader.statedSections(runId)));
  const placeMm = 'fromGaugeMm' in of ? of.fromGaugeMm : gaugeLengthMm(of.fromMm, strand);
  // The picture shows all that passed the gauge there, also if it was cut out since.
  const fromMm = spoolPositionMm(placeMm, strand);
  const startGaugeMm = placeMm - fromMm;
  const marginMm = Math.min(MARGIN_MAX_MM, Math.max(MARGIN_MIN_MM, lengthMm));
  const from = Math.max(0, fromMm - marginMm);
  const toMm = fromMm + lengthMm;
  const to = toMm + marginMm;
  const { gaugeMm, values } = await samples.readings(runId, startGaugeMm + from, startGaugeMm + to, ['d']);
  const diameterMm = values.d;
  const last = gaugeMm.at(-1);
  if (diameterMm === undefined || last === undefined) return null;
  const positionMm = gaugeMm.map((mm) => mm - startGaugeMm);
  const settings = reader.runSettings(runId);
  const then = settings.findLast((one) => one.fromGaugeMm <= startGaugeMm + fromMm) ?? settings[0];
  return {
    spoolOrdinal: spool.ordinal,
    fromSpoolMm: from,
    // A section that is still at the gauge has no strand behind it yet.
    toSpoolMm: Math.max(Math.min(to, last - startGaugeMm), from + marginMm),
    positionMm,
    diameterMm,
    section: { fromMm, toMm },
    limits: then?.limits ?? parts.limits(),
  };
}
