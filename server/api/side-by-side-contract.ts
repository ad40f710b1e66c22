import { type Static, Type } from 'typebox';
import { MEASURES } from '../strand/side-by-side/measures.ts';
import { LimitsView, LotView } from './contract.ts';

/** GET /api/side-by-side?groups=3,5;4,6&printer=0 */

const words = <const T extends readonly string[]>(values: T, description = '') =>
  Type.Unsafe<T[number]>({ type: 'string', enum: values, description });
const orNull = <T extends Parameters<typeof Type.Union>[0][number]>(schema: T, description = '') =>
  Type.Union([schema, Type.Null()], { description });
const num = (description = '') => Type.Number({ description });
const numOrNull = (description = '') => orNull(Type.Number(), description);

const Interval = orNull(Type.Object({ lower: Type.Number(), upper: Type.Number() }), '95 %; null = not known');

export const BesideRun = Type.Object({
  runId: Type.Integer(),
  group: Type.Integer({ description: 'From 0' }),
  startedMs: num(),
  endedMs: numOrNull('null = it is going, and told as it is now'),
  timeZone: Type.String(),
  lot: orNull(LotView),
  woundMm: num(),
  measuredMm: num('Strand on spools that has a diameter'),
  discardMm: num(),
  keptMm: num('By the cut plans, as wound'),
  coils: Type.Integer(),
  longestCoilMm: num(),
  lumps: Type.Integer({ description: 'Blobs and thin places' }),
  clumping: numOrNull('Variance of their counts over the mean: 1 = independent; null = too few to tell'),
  alarmCalls: Type.Integer(),
  hours: num(),
  unsteadiestZone: orNull(Type.Integer()),
  stretches: orNull(
    Type.Object({
      count: Type.Integer(),
      lengthMm: num(),
      lag1: num('How much a stretch follows the one before it in mean diameter, −1 to 1'),
    }),
    'What its intervals rest on; null = too little strand for any',
  ),
  thinned: Type.Boolean({ description: 'Its single readings were let go: what needs them is not known' }),
  histogram: orNull(
    Type.Object({
      edgesMm: Type.Array(Type.Number(), { description: 'The same for all runs' }),
      shares: Type.Array(Type.Number(), { description: 'Of the measured length' }),
      outsideShare: num(),
    }),
  ),
});
export type BesideRun = Static<typeof BesideRun>;

export const BesideMeasure = Type.Object({
  key: words(MEASURES),
  title: Type.String(),
  unit: words(['mm', 'share', 'in100m', 'm', 'kelvin', 'anHour']),
  better: orNull(words(['less', 'more'])),
  differsBy: words(['factor', 'amount']),
  runs: Type.Array(
    Type.Object({
      runId: Type.Integer(),
      group: Type.Integer(),
      value: numOrNull(),
      interval: Interval,
    }),
  ),
  groups: Type.Array(Type.Object({ value: numOrNull(), interval: Interval })),
  comparisons: Type.Array(
    Type.Object({
      group: Type.Integer({ description: 'Held beside group 0' }),
      difference: numOrNull('An amount, or a factor'),
      interval: Interval,
      basis: orNull(words(['stretches', 'counts', 'runs']), 'What chance was judged by; null = nothing to judge it by'),
      p: numOrNull('Chance of such a difference where there is none'),
      pOfAll: numOrNull('Put right for all that was asked at once (Holm)'),
      finding: words(['differs', 'unsure', 'chance', 'untold']),
    }),
  ),
});
export type BesideMeasure = Static<typeof BesideMeasure>;

export const SideBySideView = Type.Object(
  {
    printer: Type.Integer(),
    limits: orNull(LimitsView, 'Of the first run; null = nothing was wound'),
    groups: Type.Array(Type.Object({ name: Type.String(), runIds: Type.Array(Type.Integer()) })),
    differences: Type.Array(
      Type.Object({
        what: Type.String(),
        values: Type.Array(orNull(Type.String()), { description: 'One a group; null = nobody said' }),
        from: words(['words', 'line'], 'A person said it, or the line told it while winding'),
      }),
    ),
    conclusion: Type.Object({
      prepared: Type.String(),
      cameOut: Type.String(),
      notShown: Type.Array(Type.String()),
      wouldShow: orNull(Type.String()),
    }),
    cautions: Type.Array(Type.String()),
    runs: Type.Array(BesideRun),
    measures: Type.Array(BesideMeasure),
  },
  { $id: 'SideBySide' },
);
export type SideBySideView = Static<typeof SideBySideView>;
