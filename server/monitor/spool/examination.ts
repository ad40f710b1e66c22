import { type TProperties, type TSchema, Type } from 'typebox';
import { Compile } from 'typebox/compile';
import { GAUGE_TROUBLES } from '../../strand/advice.ts';
import { DOUBTS, MEASURED_KINDS, VERDICTS } from '../../strand/section.ts';
import { DETECTOR_VERSION } from '../../strand/section-detector.ts';
import type { StrandLimits } from '../../strand/strand-limits.ts';
import type { Examination } from '../analysis/spool-analysis.ts';
import type { WoundSpool } from './wound-spool.ts';

/** Increase it when calculations or the stored form change. */
const FORM = 2;

/** Everything an examination depends on. With the same inputs the stored one is still valid. */
export function examinationInputs(
  { startGaugeMm, endGaugeMm, scale, cutOuts }: Pick<WoundSpool, 'startGaugeMm' | 'endGaugeMm' | 'scale' | 'cutOuts'>,
  limits: StrandLimits,
): string {
  const byName = Object.fromEntries(Object.entries(limits).sort(([a], [b]) => (a < b ? -1 : 1)));
  // Left out where nothing was cut out, so that earlier examinations stay valid.
  const also = cutOuts.length === 0 ? [] : [cutOuts];
  return JSON.stringify([FORM, DETECTOR_VERSION, startGaugeMm, endGaugeMm, scale.factor, byName, ...also]);
}

/** In the form in which it is stored, with plain arrays and null for NaN, so that new and stored ones are identical. */
export function plainExamination(examination: Examination): Examination {
  return JSON.parse(
    JSON.stringify(examination, (_, value) => (ArrayBuffer.isView(value) ? Array.from(value as never) : value)),
  );
}

/** null = none, or invalid, so that it must be made again. */
export function examinationFrom(stored: unknown): Examination | null {
  if (!examinationShape.Check(stored)) return null;
  const examination = stored as unknown as Examination;
  return examination.found.every(({ fromMm, toMm }) => fromMm <= toMm) ? examination : null;
}

// ---- shape of a stored examination ----

const number = Type.Number();
const text = Type.String();
const orNull = (schema: TSchema) => Type.Union([schema, Type.Null()]);
const numbers = (names: string) => Object.fromEntries(names.split(' ').map((name) => [name, number]));
/** NaN and ±∞ are stored as null. */
const numbersOrNull = (names: string) => Object.fromEntries(names.split(' ').map((name) => [name, orNull(number)]));
const object = (...properties: TProperties[]) => Type.Object(Object.assign({}, ...properties));
const list = (items: TSchema) => Type.Array(items);
const oneOf = (names: readonly string[]) => Type.Enum([...names]);

/** The range of `Date`. */
const time = Type.Number({ minimum: -8.64e15, maximum: 8.64e15 });
const stretch = { ...numbers('fromMm toMm'), fromTimeMs: time, toTimeMs: time, open: Type.Boolean() };

const section = object(stretch, numbersOrNull('peakMm peakAtMm volumeBeyondMm3'), {
  ordinal: number,
  kind: oneOf(MEASURED_KINDS),
  certainty: oneOf(['sure', 'inDoubt']),
  doubt: Type.Optional(oneOf(DOUBTS)),
  verdict: oneOf(VERDICTS),
});

const index = object(numbersOrNull('value lower upper'));
const statistics = object(numbers('lengthMm unknownMm meanMm minMm maxMm'), numbersOrNull('sdMm'), {
  quantilesMm: object(numbers('p1 p5 p25 p50 p75 p95 p99')),
  tolerance: object(numbers('within below above measuredMm')),
  histogram: object(numbers('belowMm aboveMm'), { edgesMm: list(number), lengthsMm: list(number) }),
  individuals: object(numbers('count forMean forSd spacingMm'), numbersOrNull('lag1')),
  capability: orNull(object({ cp: index, cpk: index, pp: index, ppk: index, cpm: index })),
  warnings: list(text),
});

const windowAt = orNull(object(numbers('error fromMm')));
const worst = list(object(numbers('windowMm'), { most: windowAt, least: windowAt }));

const trend = Type.Union([
  object(stretch, numbers('beforeMm afterMm'), { kind: oneOf(['drift']) }),
  object(stretch, numbers('amplitudeMm periodMm'), numbersOrNull('periodS'), { kind: oneOf(['surging']) }),
]);

/** The full shape of an `Examination`, because it may come from another installation. */
const examinationShape = Compile(
  object(numbers('toGaugeMm readings'), numbersOrNull('meanPitchMm meanSpeedMmPerS gaugeNoiseMm'), {
    found: list(section),
    statistics: orNull(statistics),
    ovality: orNull(object(numbers('meanMm p95Mm largestMm largestAtSample largestAtMm share'))),
    flow: orNull(object(numbers('mean sd flowMultiplier'), { worst, worstAfterCorrection: worst })),
    trends: list(trend),
    troubles: list(object(numbersOrNull('fromMm toMm'), { kind: oneOf(GAUGE_TROUBLES) })),
  }),
);
