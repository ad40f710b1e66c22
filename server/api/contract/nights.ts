import { type Static, Type } from 'typebox';
import { FINDINGS } from '../../nights/effects.ts';
import { OUTCOMES } from '../../nights/outcomes.ts';
import { TREND_KEYS } from '../../nights/trend-figures.ts';
import { routes } from './route-table.ts';
import { ValuesView } from './runs-and-spools.ts';
import { component, IdParam, input, int, list, num, numOrNull, oneOf, orNull, text, withDefault } from './schema.ts';

const Estimate = component(
  'Estimate',
  { value: num({ digits: 5 }), lower: num({ digits: 5 }), upper: num({ digits: 5 }) },
  'A value with its 95 % interval.',
);

export const EffectsView = component(
  'Effects',
  {
    whyUnknown: orNull(text(), 'Why the nights show nothing about preparations; null = they do'),
    nights: int({ description: 'Ended runs with measured strand, without examples' }),
    outcomes: list(
      Type.Object({
        key: oneOf(
          OUTCOMES,
          'blobs = blobs per 100 m; good = kept strand, per cent of what was wound; spread = standard deviation of the diameter, mm',
        ),
        average: Estimate,
        nightsDifferBy: Estimate,
        fields: list(
          Type.Object({
            key: text(),
            title: text(),
            sentence: text(),
            finding: oneOf(
              FINDINGS,
              'shown = of a hundred years without any effect, one shows this; perhaps = one of twenty. Corrected for the number of fields and outcomes',
            ),
            p: num({ digits: 4 }),
            levels: list(Type.Object({ text: text(), nights: int(), estimate: Estimate })),
          }),
          'What each field does to it, the largest effect first',
        ),
      }),
      'Of an average night, and by what factor nights prepared alike usually differ (of good strand, its odds)',
    ),
    leftOut: list(text(), 'Fields that are known in too few nights'),
    suggestion: orNull(
      Type.Object({ what: text(), why: text(), costs: text(), learnt: text() }),
      'What to try next; null = nothing',
    ),
    notAnswered: list(text(), 'Lines whose nights are missing, and why'),
  },
  'What the preparation of the nights did, from all of them together.',
);
export type EffectsView = Static<typeof EffectsView>;

export const NightView = component(
  'Night',
  {
    values: ValuesView,
    blobs: int(),
    measuredMm: num({ digits: 0 }),
    keptShare: num({ digits: 4, description: 'What its cut list keeps, of what was wound' }),
    diameterSdMm: numOrNull({ digits: 5 }),
  },
  'How the material of a night was prepared, and what came of it.',
);

export const TrendsView = component(
  'Trends',
  {
    needed: int({ description: 'Fewer nights cannot show a change' }),
    nights: list(
      Type.Object({
        runId: int(),
        title: text(),
        startedMs: num(),
        timeZone: text(),
        changes: list(text(), 'What was prepared differently from the night before'),
      }),
      'In order of time; ended runs with measured strand, without examples and tests',
    ),
    figures: list(
      Type.Object({
        key: oneOf(
          TREND_KEYS,
          'blobs = blobs per 100 m; good = kept strand, per cent of what was wound; spread = standard deviation of the diameter, mm; mean = mean diameter, mm; troubles = alarms about heat, gauge or cable in a night',
        ),
        values: list(orNull(num({ digits: 5 })), 'By night; null = not known'),
        p: num({
          digits: 4,
          description: 'Chance of so large a change in nights that are alike, corrected for the number of figures',
        }),
        periods: list(
          Type.Object({
            from: int(),
            to: int(),
            level: orNull(Estimate),
            preparedOtherwise: list(
              text(),
              'How most of its first nights were prepared otherwise than most of the last ones before it',
            ),
          }),
          'Nights that are alike as far as can be shown, as indexes of the first and last one, with their level',
        ),
      }),
    ),
  },
  'How the nights changed, told from chance.',
);
export type TrendsView = Static<typeof TrendsView>;

/** What many nights show together. */
export const nights = routes({
  'GET /api/effects': {
    operationId: 'getEffects',
    tag: 'runs',
    right: 'watch',
    summary: 'Get what each field of the preparation does to blobs, good strand and spread, and what to try next',
    description:
      'One regression for each outcome over all ended runs, with the run as the unit. Set-points and speed are those that the line sent. Values that users have not confirmed are left out. Of all lines, the line is one more field.',
    query: input({ lines: withDefault(oneOf(['this', 'all']), 'this') }),
    answers: { 200: EffectsView },
  },
  'GET /api/nights': {
    operationId: 'listNights',
    tag: 'runs',
    right: 'watch',
    summary: 'List how each night was prepared, and what came of it',
    description: 'Ended runs, without examples and tests, newest first.',
    answers: { 200: list(NightView) },
  },
  'GET /api/lines/:id/trends': {
    operationId: 'getTrendsOfOtherLine',
    tag: 'runs',
    right: 'watch',
    summary: 'Get how the nights of another line changed',
    description: 'As that line answers. Refused (502) if it does not.',
    params: IdParam,
    answers: { 200: TrendsView },
  },
  'GET /api/trends': {
    operationId: 'getTrends',
    tag: 'runs',
    right: 'watch',
    summary: 'Get how the nights changed',
    description:
      'For each figure a permutation test of Pettitt’s change point, repeated on both sides of a change. Of a hundred years in which nothing changes, at most one shows a change in any figure.',
    answers: { 200: TrendsView },
  },
});
