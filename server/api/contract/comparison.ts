import { type Static, Type } from 'typebox';
import { RUN_REF } from '../../entities/run-ref.ts';
import { MEASURES } from '../../strand/comparison/measures.ts';
import { routes } from './route-table.ts';
import { LimitsView, LotView } from './runs-and-spools.ts';
import {
  bool,
  component,
  IdParam,
  input,
  int,
  list,
  num,
  numOrNull,
  oneOf,
  orNull,
  text,
  withDefault,
} from './schema.ts';

const Interval = orNull(
  Type.Object({ lower: num({ digits: 6 }), upper: num({ digits: 6 }) }),
  '95 % interval; null = not known',
);

const facts = {
  runId: int(),
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
};

export const RunSummaryView = component(
  'RunSummary',
  {
    ...facts,
    limits: orNull(LimitsView, 'null = nothing was wound'),
    setpointsC: list(numOrNull(), 'Mean set-points while winding, by zone from 1; null = not sent'),
    speedMmPerS: numOrNull(),
    screwTurnsPerMin: numOrNull(),
    values: list(
      Type.Object({
        key: oneOf(MEASURES),
        value: numOrNull(),
        interval: orNull(Type.Object({ lower: numOrNull(), upper: numOrNull() })),
        uncertain: orNull(
          Type.Object({ value: numOrNull(), standardError: numOrNull(), degreesOfFreedom: numOrNull() }),
          'The value and its error on the scale of comparison',
        ),
        counted: orNull(Type.Object({ count: num(), exposure: num(), clumping: num() })),
      }),
      'As GET /api/comparison compares them, not rounded; null = not known',
    ),
    tally: orNull(
      Type.Object({ cells: list(int()), lengthsMm: list(num()), readings: list(int()) }),
      'Length of strand for each diameter that was read, in 10 nm, the thinnest first; null = single readings were deleted',
    ),
  },
  'What a comparison needs to know of a run.',
);
export type RunSummaryView = Static<typeof RunSummaryView>;

export const ComparedRun = Type.Object({
  ...facts,
  ref: text({ description: 'As in the query: 3, or 2:3 for run 3 of the other line 2' }),
  name: text({ description: 'Such as run 3, or run 3 of Garage where runs of other lines are compared' }),
  address: text({ description: 'Of the page of its line; empty = this one' }),
  group: int({ description: 'Index of its group, from 0' }),
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
      name: text(),
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
        oneOf(['stretches', 'counts', 'runs', 'lines']),
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
    groups: list(Type.Object({ name: text(), runs: list(text(), 'As in the query') })),
    notAnswered: list(text(), 'Runs of other lines that are missing, and why'),
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
  'GET /api/runs/:id/summary': {
    operationId: 'summariseRun',
    tag: 'runs',
    right: 'watch',
    summary: 'Summarise a run for a comparison',
    description: 'Another line of the house asks this, to compare the run with its own ones.',
    params: IdParam,
    query: input({
      limits: Type.Optional(
        text({
          pattern: '^\\d{1,3}(\\.\\d{1,9})?(,\\d{1,3}(\\.\\d{1,9})?){2}$',
          description:
            'Hotend limit, smallest feedable diameter and tolerance of the printer that it is judged for, mm, such as 1.9,1.6,0.05; left out = this line’s own limits',
        }),
      ),
    }),
    answers: { 200: RunSummaryView },
  },
  'GET /api/comparison': {
    operationId: 'compareRuns',
    tag: 'runs',
    right: 'watch',
    summary: 'Compare runs, or groups of runs',
    description:
      'What differs in preparation and in result, and which differences are more than chance, judged for one printer. Groups that share lines are compared within them. Runs of a line that does not answer are left out.',
    query: input({
      groups: text({
        pattern: `^${RUN_REF}([,;]${RUN_REF})*$`,
        maxLength: 500,
        description:
          'Ids of runs, with a comma within a group and a semicolon between groups, such as 3,5;4,6. 2:4 is run 4 of the other line 2',
      }),
      printer: withDefault(int({ minimum: 0, description: 'Id of a printer; 0 = this line’s own limits' }), 0),
    }),
    answers: { 200: ComparisonView },
  },
});
