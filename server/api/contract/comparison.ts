import { type Static, Type } from 'typebox';
import { MEASURES } from '../../strand/comparison/measures.ts';
import { routes } from './route-table.ts';
import { LimitsView, LotView } from './runs-and-spools.ts';
import { bool, input, int, list, num, numOrNull, oneOf, orNull, text, withDefault } from './schema.ts';

const Interval = orNull(
  Type.Object({ lower: num({ digits: 6 }), upper: num({ digits: 6 }) }),
  '95 % interval; null = not known',
);

export const ComparedRun = Type.Object({
  runId: int(),
  group: int({ description: 'Index of its group, from 0' }),
  startedMs: num(),
  endedMs: numOrNull({ description: 'null = the run is still in progress' }),
  timeZone: text(),
  example: bool(),
  lot: orNull(LotView),
  woundMm: num({ digits: 1 }),
  measuredMm: num({ digits: 1, description: 'Strand on spools whose diameter was measured' }),
  discardMm: num({ digits: 1 }),
  keptMm: num({ digits: 1, description: 'What the cut lists of its spools keep' }),
  coils: int(),
  longestCoilMm: num({ digits: 1 }),
  blobsAndNecks: int({ description: 'Blobs and thin spots' }),
  clumping: numOrNull({
    digits: 2,
    description: 'Variance of their counts divided by the mean: 1 = independent; null = too few to tell',
  }),
  alarms: int({
    description: 'Alarms raised, without those that were silenced, suppressed by design or out of service',
  }),
  hours: num({ digits: 3 }),
  unsteadiestZone: orNull(int()),
  stretches: orNull(
    Type.Object({
      count: int(),
      lengthMm: num({ digits: 1 }),
    }),
    'The stretches that the intervals are computed from; null = too little strand',
  ),
  thinned: bool('Its individual readings were deleted, so values that need them are not known'),
  histogram: orNull(
    Type.Object({
      edgesMm: list(num({ digits: 5 }), 'The same for all runs'),
      shares: list(num({ digits: 6 }), 'Shares of the measured length'),
      outsideShare: num({ digits: 6 }),
    }),
  ),
});
export type ComparedRun = Static<typeof ComparedRun>;

export const MeasureView = Type.Object({
  key: oneOf(MEASURES),
  title: text(),
  unit: oneOf(['mm', 'share', 'per100m', 'm', 'kelvin', 'perHour']),
  better: orNull(oneOf(['less', 'more'])),
  differsBy: oneOf(['factor', 'amount']),
  worthSeeing: numOrNull({
    description: 'The smallest difference that matters, as differsBy states; runsNeeded is computed for it',
  }),
  runs: list(
    Type.Object({
      runId: int(),
      group: int(),
      value: numOrNull({ digits: 6 }),
      interval: Interval,
    }),
  ),
  groups: list(Type.Object({ value: numOrNull({ digits: 6 }), interval: Interval })),
  comparisons: list(
    Type.Object({
      group: int({ description: 'Compared with group 0' }),
      difference: numOrNull({ digits: 6, description: 'An amount or a factor, as differsBy states' }),
      interval: Interval,
      basis: orNull(
        oneOf(['stretches', 'counts', 'runs']),
        'What the variation by chance was estimated from; null = nothing to estimate it from',
      ),
      p: numOrNull({ digits: 6, description: 'Probability of such a difference if there is none' }),
      pAdjusted: numOrNull({ digits: 6, description: 'p, adjusted for the number of comparisons (Holm)' }),
      finding: oneOf(['differs', 'unsure', 'chance', 'unknown']),
      runsNeeded: orNull(
        int(),
        'Runs in each group that would show the difference worth seeing, four times in five; a lower limit with one run in ' +
          'each. null = more than 50, or not known',
      ),
    }),
  ),
});
export type MeasureView = Static<typeof MeasureView>;

export const ComparisonView = Type.Object(
  {
    printer: int(),
    limits: orNull(LimitsView, 'Limits of the first run; null = nothing was wound'),
    groups: list(Type.Object({ name: text(), runIds: list(int()) })),
    differences: list(
      Type.Object({
        name: text(),
        values: list(orNull(text()), 'One for each group; null = not stated'),
        from: oneOf(['user', 'line'], 'user = stated by a user; line = sent by the line while winding'),
      }),
    ),
    conclusion: Type.Object({
      preparation: text({ description: 'What was prepared differently' }),
      result: text({ description: 'What the difference was, and whether it is more than chance' }),
      limitations: list(text(), 'What the comparison does not show'),
      nextStep: orNull(text(), 'What to do next to show more; null = nothing'),
    }),
    cautions: list(text()),
    runs: list(ComparedRun),
    measures: list(MeasureView),
  },
  { $id: 'Comparison' },
);
export type ComparisonView = Static<typeof ComparisonView>;

/** Comparison of runs: what was prepared differently, and how the results differ. */
export const comparison = routes({
  'GET /api/comparison': {
    operationId: 'compareRuns',
    tag: 'runs',
    right: 'watch',
    summary: 'Compare runs, or groups of runs',
    description:
      'What differs in preparation and in result, and which differences are more than chance, judged for one printer.',
    query: input({
      groups: text({
        pattern: '^\\d{1,15}([,;]\\d{1,15})*$',
        maxLength: 500,
        description: 'Ids of runs, with a comma within a group and a semicolon between groups, such as 3,5;4,6',
      }),
      printer: withDefault(int({ minimum: 0, description: 'Id of a printer; 0 = this line’s own limits' }), 0),
    }),
    answers: { 200: ComparisonView },
  },
});
