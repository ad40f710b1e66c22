import { type Static, Type } from 'typebox';
import { AdviceView } from './live-state.ts';
import { PrinterProfile } from './printers.ts';
import { routes } from './route-table.ts';
import { SectionView, VerdictView } from './runs-and-spools.ts';
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

/**
 * What follows from all readings of a spool. Positions are mm from its inner end, corrected by a tape measurement if there
 * is one. Shares and probabilities are 0 to 1; null = not known.
 */

/** A tape measurement: `measuredMm` by tape for a stretch that the line counted as `indicatedMm`. */
export const LengthCorrectionInput = input(
  {
    measuredMm: num({ description: 'Length by tape' }),
    indicatedMm: num({ description: 'Length of the same stretch as counted by the line' }),
    uncertaintyMm: num({ description: 'Uncertainty of the tape measurement, k = 2' }),
  },
  { $id: 'LengthCorrectionInput' },
);
export type LengthCorrectionInput = Static<typeof LengthCorrectionInput>;

/** A spool on a scale, whole. */
export const WeighingInput = input(
  {
    grossG: num({ description: 'The spool with its strand' }),
    tareG: num({ description: 'The same spool empty' }),
    uncertaintyG: num({ description: 'Uncertainty of the difference, k = 2' }),
  },
  { $id: 'WeighingInput' },
);
export type WeighingInput = Static<typeof WeighingInput>;

const Weighing = component('Weighing', {
  grossG: num({ digits: 3 }),
  tareG: num({ digits: 3 }),
  uncertaintyG: num({ digits: 3 }),
  atMs: num(),
  who: text(),
});

/** Converts counted lengths of the spool to true ones: true = factor × counted. */
export const LengthScale = component('LengthScale', {
  factor: num({ digits: 6, description: '1 = never measured by tape' }),
  share: num({
    digits: 6,
    description: 'Relative uncertainty of a length (k = 2); 0.02 until it is measured by tape',
  }),
  measured: orNull(
    Type.Object(
      { measuredMm: num({ digits: 1 }), indicatedMm: num(), uncertaintyMm: num(), atMs: num() },
      { description: 'The tape measurement; null = none' },
    ),
  ),
});
export type LengthScale = Static<typeof LengthScale>;

/** Flow errors as shares: 0.058 = 5.8 % too much. Cross-section relative to the nominal one: (d/nominal)² − 1. */
const WorstFlow = Type.Object({
  windowMm: num({ description: 'Length averaged over: 100, 1000 or 10,000 mm' }),
  most: orNull(Type.Object({ error: num({ digits: 6 }), fromMm: num({ digits: 1 }) })),
  least: orNull(Type.Object({ error: num({ digits: 6 }), fromMm: num({ digits: 1 }) })),
});
export const FlowView = component('FlowError', {
  mean: num({ digits: 6 }),
  sd: num({ digits: 6 }),
  flowMultiplier: num({ digits: 5, description: 'Multiply the printer’s flow by this: 1 / (1 + mean)' }),
  worst: list(WorstFlow),
  worstAfterCorrection: list(WorstFlow),
});
export type FlowView = Static<typeof FlowView>;

const Chance = Type.Object({
  tooThick: int({
    description:
      'Stretches in the strand of the print that are certainly above the hotend limit: with one, it will jam',
  }),
  inDoubt: int({ description: 'Stretches in it that may be, within the uncertainty of the gauge' }),
  unmeasuredMm: num({ digits: 1, description: 'Strand of the print that was not reliably measured' }),
  firstTooThickAtMm: numOrNull({ digits: 1, description: 'From the end that is printed first; null = none' }),
  missedAtMost: numOrNull({
    digits: 6,
    description:
      'Largest probability that the print meets a blob that the gauge missed, one-sided at 95 %; null = not known',
  }),
  sentence: text(),
});
export const JamView = component('JamChance', {
  printMm: num({ description: 'Length of the print, from the outer end of the spool or of a coil' }),
  asWound: orNull(Chance),
  afterCutting: orNull(Chance),
});
export type JamView = Static<typeof JamView>;

const IndexEstimate = Type.Object(
  { value: numOrNull({ digits: 3 }), lower: numOrNull({ digits: 6 }), upper: numOrNull({ digits: 6 }) },
  { description: 'Index and its 95 % interval; null = no variation' },
);
export const StatisticsView = component('StrandStatistics', {
  measuredMm: num({ digits: 1 }),
  unknownMm: num({ digits: 1 }),
  meanMm: num({ digits: 5, description: 'Weighted by length, not by time' }),
  sdMm: numOrNull({ digits: 5 }),
  minMm: num({ digits: 4 }),
  maxMm: num({ digits: 4 }),
  quantilesMm: Type.Object({
    p1: num({ digits: 4 }),
    p5: num({ digits: 4 }),
    p25: num({ digits: 4 }),
    p50: num({ digits: 4 }),
    p75: num({ digits: 4 }),
    p95: num({ digits: 4 }),
    p99: num({ digits: 4 }),
  }),
  tolerance: Type.Object({
    within: num({ digits: 6, description: 'Share of the measured length' }),
    below: num({ digits: 6 }),
    above: num({ digits: 6 }),
  }),
  histogram: Type.Object({
    edgesMm: list(
      num({ digits: 5 }),
      'One more than the number of bins; each bin covers the same number of diameters that the gauge can send',
    ),
    lengthsMm: list(num({ digits: 1 }), 'Length of strand in each bin'),
    belowMm: num({ digits: 1 }),
    aboveMm: num({ digits: 1 }),
  }),
  individuals: Type.Object({
    spacingMm: num({
      digits: 1,
      description: 'Distance between the single diameters that the short-term spread is computed from',
    }),
    count: int(),
    lag1: numOrNull({ digits: 3, description: 'Autocorrelation of neighbours' }),
    effectiveForMean: num({ digits: 1, description: 'Equivalent number of independent samples' }),
    effectiveForSd: num({ digits: 1 }),
  }),
  capability: orNull(
    Type.Object(
      { cp: IndexEstimate, cpk: IndexEstimate, pp: IndexEstimate, ppk: IndexEstimate, cpm: IndexEstimate },
      {
        description:
          'Relative to the printer’s tolerance: Cp and Cpk short-term, Pp and Ppk long-term, Cpm about the target',
      },
    ),
  ),
  ovality: orNull(
    Type.Object(
      {
        meanMm: num({ digits: 5 }),
        p95Mm: num({ digits: 4 }),
        largestMm: num({ digits: 4 }),
        largestAtMm: num({ digits: 1 }),
        share: num({ digits: 6 }),
      },
      { description: '|dx − dy|; null = the gauge has one axis only' },
    ),
  ),
  warnings: list(text(), 'Which index not to trust, and why'),
});
export type StatisticsView = Static<typeof StatisticsView>;

export const SteadinessView = component('Steadiness', {
  finding: oneOf(
    ['steady', 'step', 'creep', 'unknown'],
    'steady = no more than chance; step = the mean changed at one place; creep = it moved all along the spool; unknown = ' +
      'the diameter wanders so slowly that this spool is too short to tell, or wander explains a change nearly as well',
  ),
  change: orNull(
    Type.Object({
      atMm: num({ digits: 0, description: 'Place of a step; for a creep about the middle of it' }),
      uncertaintyMm: num({ digits: 0, description: '95 % confidence; for a step only' }),
      beforeMm: num({ digits: 5, description: 'Mean before a step, or at the start of a creep' }),
      afterMm: num({ digits: 5, description: 'Mean after it, or at the end' }),
    }),
  ),
  stepMm: num({ digits: 3, description: 'Each point is the mean diameter over this length of strand' }),
  atMm: list(num({ digits: 1 }), 'Middle of the strand of each point; at most 100, without those not measured'),
  meanMm: list(num({ digits: 5 })),
  targetMm: num({ digits: 5, description: 'Mean of all points, from which the deviations are taken' }),
  sumMm: list(num({ digits: 5 }), 'CUSUM: sums of the deviations from the target'),
  decisionMm: num({
    digits: 5,
    description:
      'Decision interval: by chance one steady spool in 100 has sums beyond it, more where the diameter wanders',
  }),
  smallestStepMm: numOrNull({
    digits: 5,
    description:
      'A smaller step in the middle of such strand may not be found; null where a change is found, or no step would be',
  }),
});
export type SteadinessView = Static<typeof SteadinessView>;

export const MassView = component('MassAndPace', {
  grams: num({ digits: 2, description: 'On the spool' }),
  gramsUncertainty: num({
    digits: 2,
    description: 'From length scale, gauge and density, or that of the scale if the spool was weighed (k = 2)',
  }),
  weighed: orNull(Weighing),
  meanDiameterMm: num({ digits: 5, description: 'Diameter of the mean cross-section: root mean square' }),
  densityGPerCm3: num({ digits: 4, description: 'By weighing if the spool was weighed, else as set' }),
  metresPerKilogram: num({ digits: 1 }),
  gramsPerHour: numOrNull({ digits: 2, description: 'Current rate while winding, the average afterwards' }),
  timeToFullS: numOrNull({ digits: 0, description: 'null = not being wound, or the strand is not moving' }),
  remainingMm: numOrNull({
    digits: 0,
    description:
      'Strand that still fits, by the dimensions of the spool in the settings; null = those dimensions are impossible',
  }),
  remainingGrams: numOrNull({ digits: 1 }),
});
export type MassView = Static<typeof MassView>;

export const SpoolJudgement = component('SpoolJudgement', {
  spoolId: int(),
  name: text({ description: 'Such as R3-1 = run 3, spool 1' }),
  winding: bool('It is still being wound; everything is as of now'),
  judgedBy: oneOf(
    ['run', 'printer'],
    'run = by the limits in force while it was wound; printer = by those of the printer chosen for it',
  ),
  printer: orNull(PrinterProfile),
  printerName: text({ description: 'Name of the printer in the verdict' }),
  limits: Type.Object({
    nominalMm: num(),
    toleranceMm: num(),
    hotendLimitMm: num(),
    smallestFeedableMm: num(),
    gaugeUncertaintyMm: num({ description: 'k = 2' }),
  }),
  woundMm: num({ digits: 1 }),
  woundUncertaintyMm: num({ digits: 1, description: 'From the length scale (k = 2)' }),
  lengthScale: LengthScale,
  sampling: Type.Object({
    readings: int(),
    meanPitchMm: numOrNull({
      digits: 4,
      description: 'Mean distance between readings: a shorter blob may have gone unnoticed',
    }),
  }),
  sections: list(SectionView, 'By these limits, including what users stated, in order from the inner end'),
  totals: Type.Object(
    {
      discardMm: num({ digits: 1 }),
      doubtfulMm: num({ digits: 1 }),
      unknownMm: num({ digits: 1 }),
      goodMm: num({ digits: 1 }),
    },
    { description: 'They add up to woundMm; where sections overlap, the worst verdict counts' },
  ),
  verdict: orNull(VerdictView),
  warnings: list(text()),
  figuresToMm: num({
    digits: 1,
    description: 'Flow and statistics cover the strand up to here; while the spool is wound they lag behind',
  }),
  flow: orNull(FlowView),
  jam: JamView,
  statistics: orNull(StatisticsView),
  advice: list(
    AdviceView,
    'Worth knowing in addition to the sections; changes no verdict; positions from the inner end',
  ),
  mass: MassView,
});
export type SpoolJudgement = Static<typeof SpoolJudgement>;

/** A print of about 120 g. */
const PRINT_METRES = 40;
const PRINT_METRES_MAX = 100_000;

/** The judgement of a whole spool, its control chart, and the correction of its length and mass. */
export const judgement = routes({
  'GET /api/spools/:id/judgement': {
    operationId: 'getJudgement',
    tag: 'spools',
    right: 'watch',
    summary: 'Get the judgement of a spool',
    description: 'Sections, verdict, statistics, flow, advice and mass, for the printer chosen for the spool.',
    params: IdParam,
    query: input({
      by: withDefault(
        oneOf(
          ['printer', 'run'],
          'printer = by the limits of the printer chosen for the spool; run = by those in force while it was wound, as in its run',
        ),
        'printer',
      ),
      printMetres: withDefault(
        num({
          exclusiveMinimum: 0,
          maximum: PRINT_METRES_MAX,
          description: 'Length of a print, m, for its probability of a jam',
        }),
        PRINT_METRES,
      ),
    }),
    answers: { 200: SpoolJudgement },
  },
  'GET /api/spools/:id/steadiness': {
    operationId: 'getSteadiness',
    tag: 'spools',
    right: 'watch',
    summary: 'Get whether the diameter was steady along the strand',
    description: 'Computed from all readings. null = too little strand was measured.',
    params: IdParam,
    answers: { 200: orNull(SteadinessView) },
  },
  'PUT /api/spools/:id/length-correction': {
    operationId: 'correctLength',
    tag: 'spools',
    right: 'act',
    summary: 'Correct the lengths of a spool',
    description: 'By a tape measurement of part of its strand. All lengths of the spool are corrected accordingly.',
    params: IdParam,
    body: LengthCorrectionInput,
    answers: { 200: LengthScale },
  },
  'DELETE /api/spools/:id/length-correction': {
    operationId: 'removeLengthCorrection',
    tag: 'spools',
    right: 'act',
    summary: 'Remove the tape measurement',
    description: 'Lengths are again as counted by the line.',
    params: IdParam,
    answers: { 200: LengthScale },
  },
  'PUT /api/spools/:id/weighing': {
    operationId: 'weighSpool',
    tag: 'spools',
    right: 'act',
    summary: 'State what a spool weighs',
    description:
      'Its density follows, and every mass of its strand. Weigh it after winding and before the first cut, with its strand and empty.',
    params: IdParam,
    body: WeighingInput,
    answers: { 200: orNull(Weighing) },
  },
  'DELETE /api/spools/:id/weighing': {
    operationId: 'removeWeighing',
    tag: 'spools',
    right: 'act',
    summary: 'Remove the weighing',
    description: 'Masses are again computed from length, diameter and the density in the settings.',
    params: IdParam,
    answers: { 200: orNull(Weighing) },
  },
});
