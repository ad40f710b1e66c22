import { type Static, Type } from 'typebox';
import { MEASURES } from '../../strand/comparison/measures.ts';
import { routes } from './route-table.ts';
import { LimitsView, LotView } from './runs-and-spools.ts';
import { given, int, list, num, numOrNull, oneOf, orNull, text, withDefault, yes } from './schema.ts';

const Interval = orNull(
  Type.Object({ lower: num({ digits: 6 }), upper: num({ digits: 6 }) }),
  '95 %; null = not known',
);

export const ComparedRun = Type.Object({
  runId: int(),
  group: int({ description: 'From 0' }),
  startedMs: num(),
  endedMs: numOrNull({ description: 'null = it still goes on' }),
  timeZone: text(),
  lot: orNull(LotView),
  woundMm: num({ digits: 1 }),
  measuredMm: num({ digits: 1, description: 'Strand on spools that has a diameter' }),
  discardMm: num({ digits: 1 }),
  keptMm: num({ digits: 1, description: 'What the plans of its spools keep' }),
  coils: int(),
  longestCoilMm: num({ digits: 1 }),
  lumps: int({ description: 'Blobs and thin places' }),
  clumping: numOrNull({
    digits: 2,
    description: 'Variance of their counts over the mean: 1 = independent; null = too few to tell',
  }),
  alarmCalls: int(),
  hours: num({ digits: 3 }),
  unsteadiestZone: orNull(int()),
  stretches: orNull(
    Type.Object({
      count: int(),
      lengthMm: num({ digits: 1 }),
      lag1: num({ digits: 2, description: 'How much a stretch follows the one before it in mean diameter, −1 to 1' }),
    }),
    'What its intervals rest on; null = too little strand for any',
  ),
  thinned: yes('Its single readings were let go: what needs them is not known'),
  histogram: orNull(
    Type.Object({
      edgesMm: list(num({ digits: 5 }), 'The same for all runs'),
      shares: list(num({ digits: 6 }), 'Of the measured length'),
      outsideShare: num({ digits: 6 }),
    }),
  ),
});
export type ComparedRun = Static<typeof ComparedRun>;

export const MeasureView = Type.Object({
  key: oneOf(MEASURES),
  title: text(),
  unit: oneOf(['mm', 'share', 'in100m', 'm', 'kelvin', 'anHour']),
  better: orNull(oneOf(['less', 'more'])),
  differsBy: oneOf(['factor', 'amount']),
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
      group: int({ description: 'Held beside group 0' }),
      difference: numOrNull({ digits: 6, description: 'An amount, or a factor' }),
      interval: Interval,
      basis: orNull(oneOf(['stretches', 'counts', 'runs']), 'What chance was judged by; null = nothing to judge it by'),
      p: numOrNull({ digits: 6, description: 'Chance of such a difference where there is none' }),
      pOfAll: numOrNull({ digits: 6, description: 'Corrected for all that was asked at once (Holm)' }),
      finding: oneOf(['differs', 'unsure', 'chance', 'unknown']),
    }),
  ),
});
export type MeasureView = Static<typeof MeasureView>;

export const SideBySideView = Type.Object(
  {
    printer: int(),
    limits: orNull(LimitsView, 'Of the first run; null = nothing was wound'),
    groups: list(Type.Object({ name: text(), runIds: list(int()) })),
    differences: list(
      Type.Object({
        what: text(),
        values: list(orNull(text()), 'One a group; null = not stated'),
        from: oneOf(['user', 'line'], 'A user stated it, or the line sent it while winding'),
      }),
    ),
    conclusion: Type.Object({
      prepared: text(),
      cameOut: text(),
      notShown: list(text()),
      wouldShow: orNull(text()),
    }),
    cautions: list(text()),
    runs: list(ComparedRun),
    measures: list(MeasureView),
  },
  { $id: 'SideBySide' },
);
export type SideBySideView = Static<typeof SideBySideView>;

/** Runs compared: what was prepared differently, and what came of it. */
export const comparison = routes({
  'GET /api/comparison': {
    operationId: 'compareRuns',
    tag: 'runs',
    summary: 'Compare runs, or groups of runs',
    description: 'What differs in preparation and result, and what is chance, judged for one printer.',
    query: given({
      groups: text({
        pattern: '^\\d{1,15}([,;]\\d{1,15})*$',
        maxLength: 500,
        description: 'Ids of runs: a comma within a group, a semicolon between groups: 3,5;4,6',
      }),
      printer: withDefault(int({ minimum: 0, description: 'Id of a printer; 0 = this line’s own limits' }), 0),
    }),
    answers: { 200: SideBySideView },
  },
});
