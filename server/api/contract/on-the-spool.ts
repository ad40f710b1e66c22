import { type Static, Type } from 'typebox';
import { SECTION_KINDS, VERDICTS } from '../../strand/section.ts';
import { LengthScale } from './judgement.ts';
import { routes } from './route-table.ts';
import { given, IdParam, int, list, named, num, numOrNull, oneOf, orNull, text, withDefault, yes } from './schema.ts';

const NamedCause = Type.Object({
  cause: text({ description: 'puller roller, screw, diameter control' }),
  harmonic: int({ description: '1 = the period itself, 2 = half of it …' }),
  off: num({ description: 'How far the peak lies off, as a share of the expected frequency' }),
  sentence: text(),
});

export const SpectrumView = named('Spectrum', {
  axis: oneOf(['time', 'length']),
  unit: oneOf(['s', 'mm'], 'Of the periods; frequencies are its reciprocal'),
  resolution: numOrNull({ description: 'Two frequencies nearer than this cannot be told apart' }),
  curve: Type.Object(
    {
      frequency: list(num()),
      amplitudeMm: list(num(), 'Largest amplitude in the column: no peak is lost'),
    },
    { description: 'At most 400 columns, evenly spaced in the logarithm of the frequency' },
  ),
  peaks: list(
    Type.Object({
      frequency: num(),
      period: num(),
      frequencyUncertainty: num(),
      amplitudeMm: num({ description: 'The strand swings by ± this' }),
      share: num({ digits: 6, description: 'Of the variance' }),
      falseAlarmProbability: num({ description: 'That noise shows such a peak anywhere' }),
      sharperIn: oneOf(
        ['length', 'time', 'same'],
        'A roller’s run-out is periodic in length, a screw’s surging in time',
      ),
      causes: list(NamedCause, 'Hints, never verdicts; best first'),
    }),
    'Significant ones (false alarm ≤ 0.001), strongest first, 10 at most',
  ),
  causesKnown: list(
    Type.Object({ name: text(), period: numOrNull({ description: 'On this axis, at the mean speed' }), unit: text() }),
    'Parts of the line that peaks were compared with; set more of them in the settings of the line',
  ),
  speed: orNull(Type.Object({ meanMmPerS: num(), spreadShare: num() })),
});
export type SpectrumView = Static<typeof SpectrumView>;

const ReelPlace = Type.Object({
  positionMm: num({ digits: 1 }),
  layer: int({ description: 'From 1 at the core' }),
  turnInLayer: int({ description: 'From 1 at the flange at which that layer begins' }),
  turns: num({ digits: 2, description: 'Since the winding began' }),
  radiusMm: num({ digits: 2, description: 'From the axis to the middle of the strand' }),
  acrossMm: num({ digits: 2, description: 'From the flange at which winding began' }),
});

export const ReelView = named('Reel', {
  shape: Type.Object({
    coreDiameterMm: num(),
    flangeDiameterMm: num(),
    widthMm: num(),
    pitchMm: num(),
    strandMm: num({ digits: 4, description: 'Mean diameter of the strand on it' }),
  }),
  turnsPerLayer: int(),
  capacityMm: num({ digits: 0, description: 'Whole layers below the rim' }),
  capacityGrams: num({ digits: 1 }),
  woundMm: num({ digits: 1 }),
  woundGrams: num({ digits: 2 }),
  layers: num({ description: 'Begun' }),
  outerDiameterMm: num({ digits: 2, description: 'Of the winding as it is' }),
  filledShare: num({ digits: 4, description: 'Above 1 = more is wound than fits by the set dimensions' }),
  remainingMm: num({ digits: 0 }),
  remainingGrams: num({ digits: 1 }),
  gramsPerHour: numOrNull({ digits: 2 }),
  timeToFullS: numOrNull({ digits: 0, description: 'null = it is not being wound, or stands still' }),
  at: orNull(ReelPlace),
  placesFrom: oneOf(
    ['turnCounter', 'length'],
    'What layer and turn follow from: turns that the winder counted, or length and the spool’s measures alone',
  ),
  turnsAlong: orNull(
    Type.Object(
      { positionMm: list(num({ digits: 1 })), turns: list(num({ digits: 2 })) },
      { description: 'Turns by the counter along the strand, straight in between; null = places follow from length' },
    ),
  ),
  turnCounter: orNull(
    Type.Object(
      {
        counted: num({ digits: 2, description: 'Turns by the winder’s counter, what it did not tell bridged' }),
        byGeometry: num({ digits: 2, description: 'Turns that length and the spool’s measures make' }),
        differenceShare: num({ digits: 4 }),
        bridgedTurns: num({
          digits: 2,
          description: 'Of the counted ones so many follow from the geometry: the counter was not heard',
        }),
        believed: yes('false = it counts something else, and is not used'),
      },
      { description: 'null = the line sends no turns' },
    ),
  ),
  sections: list(
    Type.Object({
      id: text({ description: 'As in the judgement' }),
      kind: oneOf(SECTION_KINDS),
      verdict: oneOf(VERDICTS),
      from: ReelPlace,
      to: ReelPlace,
      path: list(
        Type.Object({ acrossMm: num({ digits: 2 }), radiusMm: num({ digits: 2 }), toAcrossMm: num({ digits: 2 }) }),
        'Cross-section: a bar a layer, from acrossMm to toAcrossMm at that radius; long ones thinned',
      ),
    }),
  ),
  lengthScale: LengthScale,
});
export type ReelView = Static<typeof ReelView>;

/** Waves of the strand, and where things are on the spool. */
export const onTheSpool = routes({
  'GET /api/spools/:id/spectrum': {
    operationId: 'getSpectrum',
    tag: 'spools',
    summary: 'Periodic faults of the strand',
    description: 'Waves of the diameter, in length or in time, with what on the line may cause them.',
    params: IdParam,
    query: given({ axis: withDefault(oneOf(['time', 'length']), 'length') }),
    answers: { 200: SpectrumView },
  },
  'GET /api/spools/:id/reel': {
    operationId: 'getReel',
    tag: 'spools',
    summary: 'Where things are on the spool',
    description: 'Layer, turn and cross-section of each section, and how much more fits.',
    params: IdParam,
    query: given({ at: Type.Optional(num({ description: 'A position from the inner end, mm, to be found' })) }),
    answers: { 200: ReelView },
  },
});
