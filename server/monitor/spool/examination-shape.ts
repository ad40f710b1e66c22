import { type TProperties, type TSchema, Type } from 'typebox';
import { Compile } from 'typebox/compile';
import { SECTION_KINDS, VERDICTS } from '../../strand/section.ts';

const number = Type.Number();
const text = Type.String();
const orNull = (schema: TSchema) => Type.Union([schema, Type.Null()]);
const numbers = (names: string) => Object.fromEntries(names.split(' ').map((name) => [name, number]));
/** NaN is kept as null, and so are ±∞. */
const numbersOrNull = (names: string) => Object.fromEntries(names.split(' ').map((name) => [name, orNull(number)]));
const object = (...properties: TProperties[]) => Type.Object(Object.assign({}, ...properties));
const list = (items: TSchema) => Type.Array(items);
const oneOf = (words: readonly string[]) => Type.Enum([...words]);

/** Those that a date can tell. */
const time = Type.Number({ minimum: -8.64e15, maximum: 8.64e15 });
const stretch = { ...numbers('fromMm toMm'), fromTimeMs: time, toTimeMs: time, open: Type.Boolean() };

const section = object(stretch, numbersOrNull('peakMm peakAtMm volumeBeyondMm3'), {
  ordinal: number,
  kind: oneOf(SECTION_KINDS.filter((kind) => kind !== 'marked')),
  certainty: oneOf(['sure', 'inDoubt']),
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

/** What an `Examination` must be for everybody who reads it. It may come from another installation, so it is checked in full. */
export const examinationShape = Compile(
  object(numbers('toGaugeMm readings'), numbersOrNull('meanPitchMm meanSpeedMmPerS'), {
    found: list(section),
    statistics: orNull(statistics),
    ovality: orNull(object(numbers('meanMm p95Mm largestMm largestAtSample largestAtMm share'))),
    flow: orNull(object(numbers('mean sd flowMultiplier'), { worst, worstAfterCorrection: worst })),
    trends: list(trend),
    troubles: list(object(numbersOrNull('fromMm toMm'), { kind: oneOf(['gaugeFrozen', 'gaugeSaturated']) })),
  }),
);
