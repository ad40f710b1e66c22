import { DETECTOR_VERSION } from '../../strand/section-detector.ts';
import type { StrandLimits } from '../../strand/strand-limits.ts';
import type { Examination } from '../analysis/spool-analysis.ts';
import { examinationShape } from './examination-shape.ts';
import type { WoundSpool } from './wound-spool.ts';

/** Rises when figures of the same readings come out otherwise, or are kept in another form. */
const FORM = 1;

/** All that an examination rests on: with the same inputs the kept one still holds. */
export function examinationInputs(
  { startGaugeMm, endGaugeMm, scale }: Pick<WoundSpool, 'startGaugeMm' | 'endGaugeMm' | 'scale'>,
  limits: StrandLimits,
): string {
  const byName = Object.fromEntries(Object.entries(limits).sort(([a], [b]) => (a < b ? -1 : 1)));
  return JSON.stringify([FORM, DETECTOR_VERSION, startGaugeMm, endGaugeMm, scale.factor, byName]);
}

/** As it is kept: typed arrays as plain ones, NaN as null; the first answer is in no way another than the kept one. */
export function plainExamination(examination: Examination): Examination {
  return JSON.parse(
    JSON.stringify(examination, (_, value) => (ArrayBuffer.isView(value) ? Array.from(value as never) : value)),
  );
}

/** null = there is none, or it cannot be understood and must be made again. */
export function examinationFrom(kept: unknown): Examination | null {
  if (!examinationShape.Check(kept)) return null;
  const examination = kept as unknown as Examination;
  return examination.found.every(({ fromMm, toMm }) => fromMm <= toMm) ? examination : null;
}
