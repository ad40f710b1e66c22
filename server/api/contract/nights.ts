import { type Static, Type } from 'typebox';
import { FINDINGS } from '../../nights/effects.ts';
import { routes } from './route-table.ts';
import { component, int, list, num, oneOf, orNull, text } from './schema.ts';

const Rate = component(
  'Rate',
  { value: num({ digits: 3 }), lower: num({ digits: 3 }), upper: num({ digits: 3 }) },
  'A value with its 95 % interval.',
);

export const EffectsView = component(
  'Effects',
  {
    whyUnknown: orNull(text(), 'Why the nights show nothing about preparations; null = they do'),
    nights: int({ description: 'Ended runs with measured strand, without examples' }),
    average: orNull(Rate, 'Blobs per 100 m of an average night'),
    nightsDifferBy: orNull(num({ digits: 2 }), 'Factor by which nights prepared alike usually differ'),
    fields: list(
      Type.Object({
        key: text(),
        title: text(),
        sentence: text(),
        finding: oneOf(
          FINDINGS,
          'shown = of a hundred years without any effect, one shows this; perhaps = one of twenty. Corrected for the number of fields',
        ),
        p: num({ digits: 4 }),
        levels: list(Type.Object({ text: text(), nights: int(), rate: Rate })),
      }),
      'What each field does to blobs per 100 m, the largest effect first',
    ),
    leftOut: list(text(), 'Fields that are known in too few nights'),
    suggestion: orNull(
      Type.Object({ what: text(), why: text(), costs: text(), learnt: text() }),
      'What to try next; null = nothing',
    ),
  },
  'What the preparation of the nights did, from all of them together.',
);
export type EffectsView = Static<typeof EffectsView>;

/** What many nights show together. */
export const nights = routes({
  'GET /api/effects': {
    operationId: 'getEffects',
    tag: 'runs',
    right: 'watch',
    summary: 'Get what each field of the preparation does to blobs, and what to try next',
    description:
      'One regression over all ended runs, with the run as the unit. Set-points and speed are those that the line sent. Values that users have not confirmed are left out.',
    answers: { 200: EffectsView },
  },
});
