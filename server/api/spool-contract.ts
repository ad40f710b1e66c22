import { type Static, type TSchema, Type } from 'typebox';
import { SECTION_KINDS, VERDICTS } from '../strand/section.ts';
import { AdviceView, FitnessView, SectionView, SpoolChoicesView, VerdictView } from './contract.ts';

/**
 * What travels about a spool that is judged, planned, cut and exported.
 *
 * Times are UTC ms. Positions on the spool are mm from its INNER end and put right by a person's tape measurement, where
 * there is one; `…IndicatedMm` are as the line counted them; `…OuterMm` count from the OUTER end, which comes off first. Shares and chances run from 0 to 1. What cannot be told
 * is null, never NaN.
 */

const words = <const T extends readonly string[]>(values: T, description?: string) =>
  Type.Unsafe<T[number]>({ type: 'string', enum: values, ...(description === undefined ? {} : { description }) });
const orNull = <T extends TSchema>(schema: T) => Type.Union([schema, Type.Null()]);
const num = (description?: string) => Type.Number(description === undefined ? {} : { description });
const numOrNull = (description?: string) => orNull(num(description));

// ---- printers ----

const printerFields = {
  name: Type.String({ minLength: 1, maxLength: 60, description: 'Unique among the printers' }),
  hotendLimitMm: Type.Number({ description: 'The largest diameter that passes its filament path' }),
  leastFeedableMm: Type.Number({ description: 'The smallest diameter that its drive gear feeds surely' }),
  toleranceMm: Type.Number({ description: 'Wanted: nominal diameter ± this' }),
};

/** A printer as it is kept. Id 0 = this line's own limits, from the settings of the line; it is changed there. */
export const PrinterProfile = Type.Object(
  {
    id: Type.Integer({ minimum: 0 }),
    ...printerFields,
    note: Type.String({ description: 'Drive gear, tube, nozzle: what a person wants to remember' }),
  },
  { $id: 'PrinterProfile' },
);
export type PrinterProfile = Static<typeof PrinterProfile>;

/** POST /api/printers and PUT /api/printers/:id. Needed: least feedable < nominal − tolerance < nominal + tolerance < hotend limit. */
export const PrinterInput = Type.Object(
  { ...printerFields, note: Type.Optional(Type.String({ maxLength: 500 })) },
  { $id: 'PrinterInput', additionalProperties: false },
);
export type PrinterInput = Static<typeof PrinterInput>;

// ---- length ----

/** A person's tape measurement: `measuredMm` by tape of what the line counted as `indicatedMm`. */
export const LengthCorrectionInput = Type.Object(
  {
    measuredMm: num('By tape'),
    indicatedMm: num('The same stretch as the line counted it'),
    uncertaintyMm: num('Of the tape measurement, k = 2'),
  },
  { $id: 'LengthCorrectionInput', additionalProperties: false },
);
export type LengthCorrectionInput = Static<typeof LengthCorrectionInput>;

/** How counted lengths of the spool become true ones: true = factor × counted. */
export const LengthScale = Type.Object(
  {
    factor: num('1 = never measured by tape'),
    share: num('Uncertainty of a length as a share of it (k = 2); 0 = never measured by tape'),
    measured: orNull(
      Type.Object(
        { measuredMm: num(), indicatedMm: num(), uncertaintyMm: num(), atMs: num() },
        {
          description: 'The tape measurement; null = none',
        },
      ),
    ),
  },
  { $id: 'LengthScale' },
);
export type LengthScale = Static<typeof LengthScale>;

// ---- judgement ----

/** Flow errors as shares: 0.058 = 5.8 % too much. Cross-section against the nominal one: (d/nominal)² − 1. */
const WorstFlow = Type.Object({
  windowMm: num('100, 1000 or 10,000 mm of strand'),
  most: orNull(Type.Object({ error: num(), fromMm: num() })),
  least: orNull(Type.Object({ error: num(), fromMm: num() })),
});
export const FlowView = Type.Object(
  {
    mean: num(),
    sd: num(),
    setting: num('What to multiply the printer’s flow by: 1 / (1 + mean)'),
    worst: Type.Array(WorstFlow),
    worstAfterSetting: Type.Array(WorstFlow),
  },
  { $id: 'FlowError' },
);
export type FlowView = Static<typeof FlowView>;

const Chance = Type.Object({
  oversize: Type.Integer({ description: 'Stretches surely above the hotend limit that count' }),
  examinedMm: num(),
  chance: num('That a print of that length meets at least one'),
  lower: num('95 % interval'),
  upper: num(),
  sentence: Type.String(),
});
export const JamView = Type.Object(
  {
    printMm: num('Length of the print that was asked about'),
    asWound: orNull(Chance),
    afterCutting: orNull(Chance),
  },
  { $id: 'JamChance' },
);
export type JamView = Static<typeof JamView>;

const IndexEstimate = Type.Object(
  { value: numOrNull(), lower: numOrNull(), upper: numOrNull() },
  {
    description: 'Index and its 95 % interval; null = nothing varied',
  },
);
export const StatisticsView = Type.Object(
  {
    measuredMm: num(),
    unknownMm: num(),
    meanMm: num('Along length, not along time'),
    sdMm: numOrNull(),
    minMm: num(),
    maxMm: num(),
    quantilesMm: Type.Object({ p1: num(), p5: num(), p25: num(), p50: num(), p75: num(), p95: num(), p99: num() }),
    tolerance: Type.Object({ within: num('Share of the measured length'), below: num(), above: num() }),
    histogram: Type.Object({
      edgesMm: Type.Array(Type.Number(), {
        description: 'One more than there are bins; each holds equally many of the diameters that the gauge can send',
      }),
      lengthsMm: Type.Array(Type.Number(), { description: 'Strand in each bin' }),
      belowMm: num(),
      aboveMm: num(),
    }),
    individuals: Type.Object({
      spacingMm: num('Between the single diameters behind the short-term spread'),
      count: Type.Integer(),
      lag1: numOrNull('Autocorrelation of neighbours'),
      effectiveForMean: num('Independent samples that they are worth'),
      effectiveForSd: num(),
    }),
    capability: orNull(
      Type.Object(
        { cp: IndexEstimate, cpk: IndexEstimate, pp: IndexEstimate, ppk: IndexEstimate, cpm: IndexEstimate },
        { description: 'Against the printer’s tolerance; short-term Cp, Cpk, long-term Pp, Ppk, about the target Cpm' },
      ),
    ),
    ovality: orNull(
      Type.Object(
        { meanMm: num(), p95Mm: num(), largestMm: num(), largestAtMm: num(), share: num() },
        { description: '|dx − dy|; null with a gauge of one axis' },
      ),
    ),
    warnings: Type.Array(Type.String(), { description: 'Plain sentences: when not to trust which index' }),
  },
  { $id: 'StrandStatistics' },
);
export type StatisticsView = Static<typeof StatisticsView>;

const Points = (description: string) => Type.Array(orNull(Type.Number()), { description });
export const ChartsView = Type.Object(
  {
    stepMm: num('Each point is the mean diameter of so much strand'),
    atMm: Type.Array(Type.Number(), { description: 'Middle of each point’s stretch; 500 at most' }),
    meanMm: Points('null = less than half of the stretch was measured'),
    individuals: Type.Object({
      centreMm: num(),
      sigmaMm: num('Mean moving range / d2'),
      upperMm: num('Centre + 3 sigma'),
      lowerMm: num(),
      movingRangeMm: Points('|difference to the point before|'),
      movingRangeUpperMm: num(),
      beyond: Type.Array(Type.Integer(), { description: 'Points beyond the limits' }),
      signals: Type.Array(
        Type.Object({
          index: Type.Integer(),
          rule: words(['beyond3Sigma', 'twoOfThreeBeyond2Sigma', 'fourOfFiveBeyond1Sigma', 'eightOnOneSide']),
          side: words(['high', 'low']),
        }),
        { description: 'Western Electric rules' },
      ),
    }),
    ewma: Type.Object({
      lambda: num(),
      targetMm: num(),
      averageMm: Points('z = λx + (1 − λ)z'),
      upperMm: Type.Array(Type.Number()),
      lowerMm: Type.Array(Type.Number()),
      beyond: Type.Array(Type.Integer()),
    }),
    cusum: Type.Object({
      targetMm: num(),
      allowanceMm: num('K = σ/2'),
      decisionMm: num('H = 5σ'),
      highMm: Type.Array(Type.Number()),
      lowMm: Type.Array(Type.Number()),
      signal: orNull(Type.Object({ index: Type.Integer(), side: words(['high', 'low']), since: Type.Integer() })),
    }),
  },
  { $id: 'StrandCharts' },
);
export type ChartsView = Static<typeof ChartsView>;

export const MassView = Type.Object(
  {
    grams: num('On the spool'),
    gramsUncertainty: num('From the length scale alone (k = 2)'),
    meanDiameterMm: num('Of equal cross-section: √ of the mean square'),
    densityGPerCm3: num(),
    metresPerKilogram: num(),
    gramsPerHour: numOrNull('While it is wound: now; afterwards: on average'),
    timeToFullS: numOrNull('null = it is not being wound, or stands still'),
    remainingMm: numOrNull('What still fits, by the spool’s set dimensions; null = these cannot be'),
    remainingGrams: numOrNull(),
  },
  { $id: 'MassAndPace' },
);
export type MassView = Static<typeof MassView>;

/** GET /api/spools/:id/judgement?printMetres=10 */
export const SpoolJudgement = Type.Object(
  {
    spoolId: Type.Integer(),
    name: Type.String({ description: 'As plan and coils call it: R3-1 = run 3, spool 1' }),
    winding: Type.Boolean({ description: 'It is still being wound: everything is as of now' }),
    judgedBy: words(['night', 'printer'], 'By the limits that it was wound under, or by the printer chosen for it'),
    printer: orNull(PrinterProfile),
    printerName: Type.String({ description: 'As the verdict calls it' }),
    limits: Type.Object({
      nominalMm: num(),
      toleranceMm: num(),
      hotendLimitMm: num(),
      leastFeedableMm: num(),
      gaugeUncertaintyMm: num('k = 2'),
    }),
    woundMm: num(),
    woundUncertaintyMm: num('From the length scale (k = 2); 0 = never measured by tape'),
    lengthScale: LengthScale,
    sampling: Type.Object({
      readings: Type.Integer(),
      meanPitchMm: numOrNull('A blob shorter than this may have passed between two readings'),
    }),
    sections: Type.Array(SectionView, {
      description: 'By these limits, with what users stated; in order from the inner end',
    }),
    totals: Type.Object(
      { discardMm: num(), doubtfulMm: num(), unknownMm: num(), goodMm: num() },
      { description: 'They add up to woundMm; where sections overlap the worst counts' },
    ),
    verdict: orNull(VerdictView),
    warnings: Type.Array(Type.String()),
    figuresToMm: num('Flow and statistics tell of the strand up to here; of a growing spool they follow behind'),
    flow: orNull(FlowView),
    jam: JamView,
    statistics: orNull(StatisticsView),
    advice: Type.Array(AdviceView, {
      description: 'To be known beside the sections, and changing no verdict; positions from the inner end',
    }),
    mass: MassView,
  },
  { $id: 'SpoolJudgement' },
);
export type SpoolJudgement = Static<typeof SpoolJudgement>;

// ---- will this print fit ----

/** GET /api/spools/:id/print-fit?metres=12 or ?grams=35 */
export const PrintFitView = Type.Object(
  {
    needMm: num(),
    withReserveMm: num('Need + 3 % + 500 mm'),
    fits: Type.Boolean({ description: 'One coil alone is long enough' }),
    coil: orNull(Type.String({ description: 'The shortest coil that is long enough' })),
    leftOverMm: numOrNull(),
    longEnough: Type.Array(Type.String()),
    together: orNull(
      Type.Array(Type.String(), { description: 'The fewest coils that do it together; null = even all are too short' }),
    ),
    sentence: Type.String(),
    fitness: FitnessView,
    caution: orNull(Type.String({ description: 'Why the answer may not hold' })),
  },
  { $id: 'PrintFit' },
);
export type PrintFitView = Static<typeof PrintFitView>;

// ---- spectrum ----

const NamedCause = Type.Object({
  cause: Type.String({ description: 'puller roller, screw, diameter control' }),
  harmonic: Type.Integer({ description: '1 = the period itself, 2 = half of it …' }),
  off: num('How far the peak lies off, as a share of the expected frequency'),
  sentence: Type.String(),
});

/** GET /api/spools/:id/spectrum?axis=length|time */
export const SpectrumView = Type.Object(
  {
    axis: words(['time', 'length']),
    unit: words(['s', 'mm'], 'Of the periods; frequencies are its reciprocal'),
    resolution: numOrNull('Two frequencies nearer than this cannot be told apart'),
    curve: Type.Object(
      {
        frequency: Type.Array(Type.Number()),
        amplitudeMm: Type.Array(Type.Number(), { description: 'Largest amplitude in the column: no peak is lost' }),
      },
      { description: 'At most 400 columns, evenly spaced in the logarithm of the frequency' },
    ),
    peaks: Type.Array(
      Type.Object({
        frequency: num(),
        period: num(),
        frequencyUncertainty: num(),
        amplitudeMm: num('The strand swings by ± this'),
        share: num('Of the variance'),
        falseAlarmProbability: num('That noise shows such a peak anywhere'),
        sharperIn: words(
          ['length', 'time', 'same'],
          'A roller’s run-out is periodic in length, a screw’s surging in time',
        ),
        causes: Type.Array(NamedCause, { description: 'Hints, never verdicts; best first' }),
      }),
      { description: 'Significant ones (false alarm ≤ 0.001), strongest first, 10 at most' },
    ),
    causesKnown: Type.Array(
      Type.Object({ name: Type.String(), period: numOrNull('On this axis, at the mean speed'), unit: Type.String() }),
      { description: 'Parts of the line that peaks were compared with; set more of them in the settings of the line' },
    ),
    speed: orNull(Type.Object({ meanMmPerS: num(), spreadShare: num() })),
  },
  { $id: 'Spectrum' },
);
export type SpectrumView = Static<typeof SpectrumView>;

// ---- where it lies on the spool ----

const ReelPlace = Type.Object({
  positionMm: num(),
  layer: Type.Integer({ description: 'From 1 at the core' }),
  turnInLayer: Type.Integer({ description: 'From 1 at the flange at which that layer begins' }),
  turns: num('Since the winding began'),
  radiusMm: num('From the axis to the middle of the strand'),
  acrossMm: num('From the flange at which winding began'),
});

/** GET /api/spools/:id/reel?at=MM */
export const ReelView = Type.Object(
  {
    shape: Type.Object({
      coreDiameterMm: num(),
      flangeDiameterMm: num(),
      widthMm: num(),
      pitchMm: num(),
      strandMm: num('Mean diameter of the strand on it'),
    }),
    turnsPerLayer: Type.Integer(),
    capacityMm: num('Whole layers below the rim'),
    capacityGrams: num(),
    woundMm: num(),
    woundGrams: num(),
    layers: num('Begun'),
    outerDiameterMm: num('Of the winding as it is'),
    filledShare: num('Above 1 = more is wound than fits by the set dimensions'),
    remainingMm: num(),
    remainingGrams: num(),
    gramsPerHour: numOrNull(),
    timeToFullS: numOrNull('null = it is not being wound, or stands still'),
    at: orNull(ReelPlace),
    placesFrom: words(
      ['turnCounter', 'length'],
      'What layer and turn follow from: turns that the winder counted, or length and the spool’s measures alone',
    ),
    turnsAlong: orNull(
      Type.Object(
        { positionMm: Type.Array(num()), turns: Type.Array(num()) },
        { description: 'Turns by the counter along the strand, straight in between; null = places follow from length' },
      ),
    ),
    turnCounter: orNull(
      Type.Object(
        {
          counted: num('Turns by the winder’s counter, what it did not tell bridged'),
          byGeometry: num('Turns that length and the spool’s measures make'),
          differenceShare: num(),
          bridgedTurns: num('Of the counted ones so many follow from the geometry: the counter was not heard'),
          believed: Type.Boolean({ description: 'false = it counts something else, and is not used' }),
        },
        { description: 'null = the line sends no turns' },
      ),
    ),
    sections: Type.Array(
      Type.Object({
        id: Type.String({ description: 'As in the judgement' }),
        kind: words(SECTION_KINDS),
        verdict: words(VERDICTS),
        from: ReelPlace,
        to: ReelPlace,
        path: Type.Array(Type.Object({ acrossMm: num(), radiusMm: num(), toAcrossMm: num() }), {
          description: 'Cross-section: a bar a layer, from acrossMm to toAcrossMm at that radius; long ones thinned',
        }),
      }),
    ),
    lengthScale: LengthScale,
  },
  { $id: 'Reel' },
);
export type ReelView = Static<typeof ReelView>;

// ---- cut plan ----

const placed = {
  fromMm: num(),
  toMm: num(),
  fromOuterMm: num(),
  toOuterMm: num(),
  lengthMm: num(),
};
const Landmark = Type.Object({
  kind: orNull(words(SECTION_KINDS)),
  peakMm: numOrNull(),
  lengthMm: num(),
  peakAtOuterMm: num(),
  afterCutMm: num(),
  sentence: Type.String({
    description: '“When about 327 mm are off, you should see a thin place of 1.48 mm, 30 mm long.”',
  }),
});
export const CutStepView = Type.Object(
  {
    ordinal: Type.Integer({ description: 'From 1, over what is still to do' }),
    action: words(['unwindAndKeep', 'discard']),
    ...placed,
    countedMm: num('To be counted since the last cut'),
    countErrorMm: num('How far the count may be off there'),
    cutAfter: Type.Boolean({ description: 'false = down to the core' }),
    guardBeforeMm: num(),
    guardAfterMm: num(),
    landmark: orNull(Landmark),
    coil: orNull(Type.String({ description: 'Name of the coil that this step makes' })),
    sentence: Type.String(),
  },
  { $id: 'CutStep' },
);
export type CutStepView = Static<typeof CutStepView>;

export const CoilView = Type.Object(
  {
    ordinal: Type.Integer({ description: 'From 1 in the order in which they come off' }),
    name: Type.String({ description: 'Given by a person, else “R3-1 A”' }),
    named: Type.Boolean({ description: 'A person gave the name' }),
    state: words(['planned', 'cut']),
    condition: words(['clean', 'inDoubt', 'spoilt']),
    ...placed,
    doubtfulMm: num(),
    unknownMm: num(),
    grams: numOrNull(),
  },
  { $id: 'Coil' },
);
export type CoilView = Static<typeof CoilView>;

export const DoneCutView = Type.Object(
  {
    id: Type.Integer(),
    action: words(['keep', 'discard']),
    countedMm: num(),
    landmarkCountedMm: numOrNull(),
    reachedEnd: Type.Boolean(),
    atMs: num(),
    who: Type.String(),
    ...placed,
    condition: words(['clean', 'inDoubt', 'spoilt']),
  },
  { $id: 'DoneCut' },
);
export type DoneCutView = Static<typeof DoneCutView>;

/** GET /api/spools/:id/cut-plan */
export const CutPlanView = Type.Object(
  {
    spoolId: Type.Integer(),
    name: Type.String(),
    printer: PrinterProfile,
    choices: SpoolChoicesView,
    shortestMm: num('Shortest coil worth keeping, as it holds'),
    countError: Type.Object({ wheelShare: num(), lengthScaleShare: num(), slipMm: num() }),
    steps: Type.Array(CutStepView),
    coils: Type.Array(CoilView),
    done: Type.Array(DoneCutView),
    totals: Type.Object(
      {
        woundMm: num(),
        keptMm: num('In coils, measured'),
        discardedMm: num('Cut out or in a spoilt coil, measured'),
        unknownMm: num('Never measured, wherever it goes'),
        unknownInCoilsMm: num(),
        givenUpMm: num('Good strand given up to margins and pieces too short'),
        cuts: Type.Integer(),
      },
      { description: 'keptMm + discardedMm + unknownMm = woundMm, exactly' },
    ),
    explanation: Type.String(),
    warnings: Type.Array(Type.String()),
    fitness: FitnessView,
  },
  { $id: 'CutPlan' },
);
export type CutPlanView = Static<typeof CutPlanView>;

/** POST /api/spools/:id/cuts: a step was done at the rewinder. */
export const CutInput = Type.Object(
  {
    action: words(['keep', 'discard']),
    countedMm: num('Counted since the last cut'),
    landmarkCountedMm: Type.Optional(
      num('What the counter showed when this step’s landmark passed: puts the count right'),
    ),
    reachedEnd: Type.Optional(Type.Boolean({ description: 'The core is bare, whatever the counter says' })),
    cutsBefore: Type.Optional(
      Type.Integer({
        minimum: 0,
        description:
          'How many cuts were ticked off as the page saw it: another number is refused (409), so that no step is ticked twice',
      }),
    ),
  },
  { $id: 'CutInput', additionalProperties: false },
);
export type CutInput = Static<typeof CutInput>;

/** GET /api/spools/:id/coils: the coils of the plan, with statistics of their own. */
export const CoilDetail = Type.Object(
  {
    coil: CoilView,
    verdict: orNull(VerdictView),
    statistics: orNull(
      Type.Object({
        measuredMm: num(),
        meanMm: num(),
        sdMm: numOrNull(),
        minMm: num(),
        maxMm: num(),
        withinTolerance: num('Share of the measured length'),
      }),
    ),
    flow: orNull(FlowView),
  },
  { $id: 'CoilDetail' },
);
export type CoilDetail = Static<typeof CoilDetail>;

/** PUT /api/spools/:id/coils/:ordinal. An empty name = the usual one again. */
export const CoilNameInput = Type.Object(
  { name: Type.String({ maxLength: 60 }) },
  { $id: 'CoilNameInput', additionalProperties: false },
);
export type CoilNameInput = Static<typeof CoilNameInput>;

/** GET /api/spools/:id/export?format=csv|jsonl|parquet */
export const EXPORT_FORMATS = ['csv', 'jsonl', 'parquet'] as const;
export type ExportFormat = (typeof EXPORT_FORMATS)[number];
