import { type Static, Type } from 'typebox';
import { AdviceView } from './live-state.ts';
import { PrinterProfile } from './printers.ts';
import { routes } from './route-table.ts';
import { SectionView, VerdictView } from './runs-and-spools.ts';
import { given, IdParam, int, list, named, num, numOrNull, oneOf, orNull, text, withDefault, yes } from './schema.ts';

/**
 * What is read from all of a spool. Positions are mm from its inner end, corrected by a tape measurement where there is
 * one. Shares and chances run from 0 to 1. What is not known is null.
 */

/** A tape measurement: `measuredMm` by tape of what the line counted as `indicatedMm`. */
export const LengthCorrectionInput = given(
  {
    measuredMm: num({ description: 'By tape' }),
    indicatedMm: num({ description: 'The same stretch as the line counted it' }),
    uncertaintyMm: num({ description: 'Of the tape measurement, k = 2' }),
  },
  { $id: 'LengthCorrectionInput' },
);
export type LengthCorrectionInput = Static<typeof LengthCorrectionInput>;

/** How counted lengths of the spool become true ones: true = factor × counted. */
export const LengthScale = named('LengthScale', {
  factor: num({ digits: 6, description: '1 = never measured by tape' }),
  share: num({
    digits: 6,
    description: 'Uncertainty of a length as a share of it (k = 2); 0 = never measured by tape',
  }),
  measured: orNull(
    Type.Object(
      { measuredMm: num({ digits: 1 }), indicatedMm: num(), uncertaintyMm: num(), atMs: num() },
      { description: 'The tape measurement; null = none' },
    ),
  ),
});
export type LengthScale = Static<typeof LengthScale>;

/** Flow errors as shares: 0.058 = 5.8 % too much. Cross-section against the nominal one: (d/nominal)² − 1. */
const WorstFlow = Type.Object({
  windowMm: num({ description: '100, 1000 or 10,000 mm of strand' }),
  most: orNull(Type.Object({ error: num({ digits: 6 }), fromMm: num({ digits: 1 }) })),
  least: orNull(Type.Object({ error: num({ digits: 6 }), fromMm: num({ digits: 1 }) })),
});
export const FlowView = named('FlowError', {
  mean: num({ digits: 6 }),
  sd: num({ digits: 6 }),
  setting: num({ digits: 5, description: 'What to multiply the printer’s flow by: 1 / (1 + mean)' }),
  worst: list(WorstFlow),
  worstAfterSetting: list(WorstFlow),
});
export type FlowView = Static<typeof FlowView>;

const Chance = Type.Object({
  oversize: int({ description: 'Stretches surely above the hotend limit that count' }),
  examinedMm: num({ digits: 1 }),
  chance: num({ digits: 6, description: 'That a print of that length meets at least one' }),
  lower: num({ digits: 6, description: '95 % interval' }),
  upper: num({ digits: 6 }),
  sentence: text(),
});
export const JamView = named('JamChance', {
  printMm: num({ description: 'Length of the print that was asked about' }),
  asWound: orNull(Chance),
  afterCutting: orNull(Chance),
});
export type JamView = Static<typeof JamView>;

const IndexEstimate = Type.Object(
  { value: numOrNull({ digits: 3 }), lower: numOrNull({ digits: 6 }), upper: numOrNull({ digits: 6 }) },
  { description: 'Index and its 95 % interval; null = nothing varied' },
);
export const StatisticsView = named('StrandStatistics', {
  measuredMm: num({ digits: 1 }),
  unknownMm: num({ digits: 1 }),
  meanMm: num({ digits: 5, description: 'Along length, not along time' }),
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
      'One more than there are bins; each holds equally many of the diameters that the gauge can send',
    ),
    lengthsMm: list(num({ digits: 1 }), 'Strand in each bin'),
    belowMm: num({ digits: 1 }),
    aboveMm: num({ digits: 1 }),
  }),
  individuals: Type.Object({
    spacingMm: num({ digits: 1, description: 'Between the single diameters behind the short-term spread' }),
    count: int(),
    lag1: numOrNull({ digits: 3, description: 'Autocorrelation of neighbours' }),
    effectiveForMean: num({ digits: 1, description: 'Independent samples that they are worth' }),
    effectiveForSd: num({ digits: 1 }),
  }),
  capability: orNull(
    Type.Object(
      { cp: IndexEstimate, cpk: IndexEstimate, pp: IndexEstimate, ppk: IndexEstimate, cpm: IndexEstimate },
      { description: 'Against the printer’s tolerance; short-term Cp, Cpk, long-term Pp, Ppk, about the target Cpm' },
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
      { description: '|dx − dy|; null with a gauge of one axis' },
    ),
  ),
  warnings: list(text(), 'Plain sentences: when not to trust which index'),
});
export type StatisticsView = Static<typeof StatisticsView>;

const Points = (description: string) => list(numOrNull({ digits: 5 }), description);
export const ChartsView = named('StrandCharts', {
  stepMm: num({ digits: 3, description: 'Each point is the mean diameter of so much strand' }),
  atMm: list(num({ digits: 1 }), 'Middle of each point’s stretch; 500 at most'),
  meanMm: Points('null = less than half of the stretch was measured'),
  individuals: Type.Object({
    centreMm: num({ digits: 5 }),
    sigmaMm: num({ digits: 6, description: 'Mean moving range / d2' }),
    upperMm: num({ digits: 5, description: 'Centre + 3 sigma' }),
    lowerMm: num({ digits: 5 }),
    movingRangeMm: Points('|difference to the point before|'),
    movingRangeUpperMm: num({ digits: 5 }),
    beyond: list(int(), 'Points beyond the limits'),
    signals: list(
      Type.Object({
        index: int(),
        rule: oneOf(['beyond3Sigma', 'twoOfThreeBeyond2Sigma', 'fourOfFiveBeyond1Sigma', 'eightOnOneSide']),
        side: oneOf(['high', 'low']),
      }),
      'Western Electric rules',
    ),
  }),
  ewma: Type.Object({
    lambda: num(),
    targetMm: num({ digits: 5 }),
    averageMm: Points('z = λx + (1 − λ)z'),
    upperMm: list(num({ digits: 5 })),
    lowerMm: list(num({ digits: 5 })),
    beyond: list(int()),
  }),
  cusum: Type.Object({
    targetMm: num({ digits: 5 }),
    allowanceMm: num({ digits: 6, description: 'K = σ/2' }),
    decisionMm: num({ digits: 6, description: 'H = 5σ' }),
    highMm: list(num({ digits: 5 })),
    lowMm: list(num({ digits: 5 })),
    signal: orNull(Type.Object({ index: int(), side: oneOf(['high', 'low']), since: int() })),
  }),
});
export type ChartsView = Static<typeof ChartsView>;

export const MassView = named('MassAndPace', {
  grams: num({ digits: 2, description: 'On the spool' }),
  gramsUncertainty: num({ digits: 2, description: 'From the length scale alone (k = 2)' }),
  meanDiameterMm: num({ digits: 5, description: 'Of equal cross-section: √ of the mean square' }),
  densityGPerCm3: num(),
  metresPerKilogram: num({ digits: 1 }),
  gramsPerHour: numOrNull({ digits: 2, description: 'While it is wound: now; afterwards: on average' }),
  timeToFullS: numOrNull({ digits: 0, description: 'null = it is not being wound, or stands still' }),
  remainingMm: numOrNull({
    digits: 0,
    description: 'What still fits, by the spool’s set dimensions; null = these cannot be',
  }),
  remainingGrams: numOrNull({ digits: 1 }),
});
export type MassView = Static<typeof MassView>;

export const SpoolJudgement = named('SpoolJudgement', {
  spoolId: int(),
  name: text({ description: 'As plan and coils call it: R3-1 = run 3, spool 1' }),
  winding: yes('It is still being wound: everything is as of now'),
  judgedBy: oneOf(['night', 'printer'], 'By the limits that it was wound under, or by the printer chosen for it'),
  printer: orNull(PrinterProfile),
  printerName: text({ description: 'As the verdict calls it' }),
  limits: Type.Object({
    nominalMm: num(),
    toleranceMm: num(),
    hotendLimitMm: num(),
    leastFeedableMm: num(),
    gaugeUncertaintyMm: num({ description: 'k = 2' }),
  }),
  woundMm: num({ digits: 1 }),
  woundUncertaintyMm: num({ digits: 1, description: 'From the length scale (k = 2); 0 = never measured by tape' }),
  lengthScale: LengthScale,
  sampling: Type.Object({
    readings: int(),
    meanPitchMm: numOrNull({ digits: 4, description: 'A blob shorter than this may have passed between two readings' }),
  }),
  sections: list(SectionView, 'By these limits, with what users stated; in order from the inner end'),
  totals: Type.Object(
    {
      discardMm: num({ digits: 1 }),
      doubtfulMm: num({ digits: 1 }),
      unknownMm: num({ digits: 1 }),
      goodMm: num({ digits: 1 }),
    },
    { description: 'They add up to woundMm; where sections overlap the worst counts' },
  ),
  verdict: orNull(VerdictView),
  warnings: list(text()),
  figuresToMm: num({
    digits: 1,
    description: 'Flow and statistics tell of the strand up to here; of a growing spool they follow behind',
  }),
  flow: orNull(FlowView),
  jam: JamView,
  statistics: orNull(StatisticsView),
  advice: list(AdviceView, 'To be known beside the sections, and changing no verdict; positions from the inner end'),
  mass: MassView,
});
export type SpoolJudgement = Static<typeof SpoolJudgement>;

/** A print of about 120 g. */
const PRINT_METRES = 40;
const PRINT_METRES_MAX = 100_000;

/** What a whole spool is like, and its length corrected. */
export const judgement = routes({
  'GET /api/spools/:id/judgement': {
    operationId: 'getJudgement',
    tag: 'spools',
    summary: 'The whole spool judged',
    description: 'Sections, verdict, statistics, flow, advice and mass, by the printer that is chosen for the spool.',
    params: IdParam,
    query: given({
      by: withDefault(
        oneOf(
          ['printer', 'night'],
          'printer = the one that is chosen for the spool; night = the limits that it was wound under, as its run is told',
        ),
        'printer',
      ),
      printMetres: withDefault(
        num({
          exclusiveMinimum: 0,
          maximum: PRINT_METRES_MAX,
          description: 'Length of the print whose chance of a jam is told',
        }),
        PRINT_METRES,
      ),
    }),
    answers: { 200: SpoolJudgement },
  },
  'GET /api/spools/:id/charts': {
    operationId: 'getControlCharts',
    tag: 'spools',
    summary: 'Control charts of the diameter along the strand',
    description: 'All readings are read for them. null = too little strand, or none of it varied.',
    params: IdParam,
    answers: { 200: orNull(ChartsView) },
  },
  'PUT /api/spools/:id/length-correction': {
    operationId: 'correctLength',
    tag: 'spools',
    summary: 'Correct the lengths of a spool',
    description: 'By a tape measurement of some of its strand. Every length of the spool is then a true one.',
    params: IdParam,
    body: LengthCorrectionInput,
    answers: { 200: LengthScale },
  },
  'DELETE /api/spools/:id/length-correction': {
    operationId: 'takeBackLengthCorrection',
    tag: 'spools',
    summary: 'Take the tape measurement back',
    description: 'Lengths count as the line counted them.',
    params: IdParam,
    answers: { 200: LengthScale },
  },
});
