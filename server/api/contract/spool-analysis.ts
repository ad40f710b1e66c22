import { type Static, Type } from 'typebox';
import { SECTION_KINDS, VERDICTS } from '../../strand/section.ts';
import { LengthScale } from './judgement.ts';
import { routes } from './route-table.ts';
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

const NamedCause = Type.Object({
  cause: text({ description: 'Such as puller roller, screw or diameter control' }),
  harmonic: int({ description: '1 = the period itself, 2 = half of it, and so on' }),
  offsetShare: num({ description: 'Distance of the peak from the expected frequency, as a share of that frequency' }),
  sentence: text(),
});

export const SpectrumView = component('Spectrum', {
  axis: oneOf(['time', 'length']),
  unit: oneOf(['s', 'mm'], 'Unit of the periods; frequencies have its reciprocal'),
  resolution: numOrNull({ description: 'Smallest distance between two frequencies that can be distinguished' }),
  shortestPeriod: numOrNull({
    description:
      'Shorter waves are filtered out: readings are too far apart for them, or the strand is too long for so fine a ' +
      'spectrum. A wave shorter than two readings shows as a longer one.',
  }),
  curve: Type.Object(
    {
      frequency: list(num()),
      amplitudeMm: list(num(), 'Largest amplitude in each column, so that no peak is lost'),
    },
    { description: 'At most 400 columns, evenly spaced in the logarithm of the frequency' },
  ),
  peaks: list(
    Type.Object({
      frequency: num(),
      period: num(),
      frequencyUncertainty: num(),
      amplitudeMm: num({ description: 'The diameter varies by ± this' }),
      share: num({ digits: 6, description: 'Share of the variance' }),
      falseAlarmProbability: num({ description: 'Probability that noise alone shows such a peak anywhere' }),
      sharperIn: oneOf(
        ['length', 'time', 'same'],
        'Whether the peak is sharper by length (such as roller run-out) or by time (such as screw surging)',
      ),
      causes: list(NamedCause, 'Possible causes, most likely first'),
    }),
    'Significant peaks (false alarm ≤ 0.001), strongest first, at most 10',
  ),
  candidateCauses: list(
    Type.Object({ name: text(), period: numOrNull({ description: 'On this axis, at the mean speed' }), unit: text() }),
    'Parts of the line that the peaks were compared with; more can be entered in the settings',
  ),
  speed: orNull(Type.Object({ meanMmPerS: num(), spreadShare: num() })),
});
export type SpectrumView = Static<typeof SpectrumView>;

const ReelPlace = Type.Object({
  positionMm: num({ digits: 1 }),
  layer: int({ description: 'From 1 at the core; an estimate unless turns were counted' }),
  layerLeast: int({ description: 'First layer in which it can be; the same as layerMost if turns were counted' }),
  layerMost: int(),
  radiusShare: num({ digits: 3, description: 'How far from the core to the outside of the winding, 0 to 1' }),
  turnInLayer: orNull(
    int({ description: 'From 1 at the flange where that layer starts' }),
    'null = turns were not counted, and the length alone cannot tell',
  ),
  turns: num({ digits: 2, description: 'Since the start of winding; an estimate unless they were counted' }),
  radiusMm: num({ digits: 2, description: 'From the axis to the middle of the strand' }),
  acrossMm: num({ digits: 2, description: 'From the flange where winding started' }),
});

export const ReelView = component('Reel', {
  shape: Type.Object({
    coreDiameterMm: num(),
    flangeDiameterMm: num(),
    widthMm: num(),
    pitchMm: num(),
    strandMm: num({ digits: 4, description: 'Mean diameter of the strand' }),
  }),
  turnsPerLayer: int(),
  capacityMm: num({ digits: 0, description: 'In whole layers below the rim' }),
  capacityGrams: num({ digits: 1 }),
  woundMm: num({ digits: 1 }),
  woundGrams: num({ digits: 2 }),
  layers: num({ description: 'Layers started; an estimate unless turns were counted' }),
  layersLeast: int(),
  layersMost: int(),
  outerDiameterMm: num({ digits: 2, description: 'Of the strand wound so far' }),
  filledShare: num({ digits: 4, description: 'Above 1 = more is wound than fits by the dimensions in the settings' }),
  remainingMm: num({ digits: 0 }),
  remainingGrams: num({ digits: 1 }),
  gramsPerHour: numOrNull({ digits: 2 }),
  timeToFullS: numOrNull({ digits: 0, description: 'null = not being wound, or the strand is not moving' }),
  at: orNull(ReelPlace),
  placesFrom: oneOf(
    ['turnCounter', 'length'],
    'Whether layers and turns follow from the turns that the winder counted, or from length and spool dimensions only',
  ),
  turnsAlong: orNull(
    Type.Object(
      { positionMm: list(num({ digits: 1 })), turns: list(num({ digits: 2 })) },
      { description: 'Counted turns along the strand, to be interpolated linearly; null = places follow from length' },
    ),
  ),
  turnCounter: orNull(
    Type.Object(
      {
        counted: num({ digits: 2, description: 'Turns by the winder’s counter, with gaps filled' }),
        byGeometry: num({ digits: 2, description: 'Turns computed from length and spool dimensions' }),
        differenceShare: num({ digits: 4 }),
        bridgedTurns: num({
          digits: 2,
          description: 'How many of the counted turns were computed, because the counter’s values were missing',
        }),
        used: bool('false = the counter contradicts the length too much and is ignored'),
      },
      { description: 'null = the line sends no turns' },
    ),
  ),
  sections: list(
    Type.Object({
      id: text({ description: 'Same id as in the judgement' }),
      kind: oneOf(SECTION_KINDS),
      verdict: oneOf(VERDICTS),
      from: ReelPlace,
      to: ReelPlace,
      path: list(
        Type.Object({ acrossMm: num({ digits: 2 }), radiusMm: num({ digits: 2 }), toAcrossMm: num({ digits: 2 }) }),
        'Cross-section: one bar for each layer, from acrossMm to toAcrossMm at that radius; thinned if there are many',
      ),
    }),
  ),
  lengthScale: LengthScale,
});
export type ReelView = Static<typeof ReelView>;

/** Periodic faults of the strand, and where sections are on the spool. */
export const spoolAnalysis = routes({
  'GET /api/spools/:id/spectrum': {
    operationId: 'getSpectrum',
    tag: 'spools',
    right: 'watch',
    summary: 'Get periodic faults of the strand',
    description: 'Periodic variation of the diameter by length or by time, with possible causes on the line.',
    params: IdParam,
    query: input({ axis: withDefault(oneOf(['time', 'length']), 'length') }),
    answers: { 200: SpectrumView },
  },
  'GET /api/spools/:id/reel': {
    operationId: 'getReel',
    tag: 'spools',
    right: 'watch',
    summary: 'Get the places of the sections on the spool',
    description: 'Layer, turn and cross-section of each section, and how much more strand fits.',
    params: IdParam,
    query: input({ at: Type.Optional(num({ description: 'A position to locate, mm from the inner end' })) }),
    answers: { 200: ReelView },
  },
});
