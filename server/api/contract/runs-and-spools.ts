import { type Static, Type } from 'typebox';
import { ALARM_STEPS } from '../../alarm/alarm.ts';
import { CUT_OBJECTIVES } from '../../strand/plan/cut-request.ts';
import { DECISIONS, DOUBTS, SECTION_KINDS, VERDICTS } from '../../strand/section.ts';
import { PRINT_AMOUNT_MAX } from '../../strand/verdict/print-fit.ts';
import { RUN_QUALITIES } from '../../strand/verdict/run-verdict.ts';
import { FITNESSES } from '../../strand/verdict/spool-verdict.ts';
import { AlarmView } from './alarms.ts';
import { bool, component, input, int, list, num, numOrNull, oneOf, orNull, text } from './schema.ts';

/** Sections, spools and runs as they appear in every response. A run is judged by the limits in force while it was made. */

export const SectionView = component('Section', {
  id: text({
    description: 'm12 = recorded, p5 = marked by a user, j12345 = found only by the limits of the chosen printer',
  }),
  spoolId: orNull(int()),
  kind: oneOf(SECTION_KINDS),
  fromGaugeMm: num({ digits: 1, description: 'As counted by the line from the start of the run' }),
  toGaugeMm: num({ digits: 1 }),
  fromSpoolMm: numOrNull({
    digits: 1,
    description: 'From the inner end of the spool, corrected by a tape measurement if there is one',
  }),
  toSpoolMm: numOrNull({ digits: 1 }),
  fromOuterMm: numOrNull({
    digits: 1,
    description: 'Distance of its outer edge from the outer end of the spool; null = not on a finished spool',
  }),
  toOuterMm: numOrNull({ digits: 1 }),
  fromTimeMs: numOrNull(),
  toTimeMs: numOrNull(),
  peakMm: numOrNull({ digits: 4, description: 'Diameter furthest beyond the limit' }),
  peakSpoolMm: numOrNull({ digits: 1 }),
  volumeBeyondMm3: numOrNull({ digits: 3 }),
  certainty: oneOf(['sure', 'inDoubt'], 'Decision rule of ISO 14253-1'),
  doubt: orNull(
    oneOf(
      DOUBTS,
      'Why it is in doubt: too near to the limit for the gauge to tell; seen by one reading, or by too few for strand; the gauge shifted before it; the two axes disagree',
    ),
  ),
  verdict: oneOf(VERDICTS),
  decision: orNull(
    oneOf(
      DECISIONS,
      'cutOut = a user cut it out before it was wound, and this is the joint; left = a user left it on the spool',
    ),
  ),
  note: text(),
  origin: oneOf(
    ['measured', 'adjusted', 'user'],
    'adjusted = measured, then changed by a user; user = marked by a user',
  ),
  open: bool('It is still going on'),
  reachesWinderInS: numOrNull({ digits: 1, description: 'null = already wound, or the strand is not moving' }),
});
export type SectionView = Static<typeof SectionView>;

/** A section that a user marks or adjusts; positions are true mm from the inner end. */
export const SectionInput = input(
  {
    fromSpoolMm: num(),
    toSpoolMm: num(),
    verdict: oneOf(VERDICTS),
    note: Type.Optional(text({ maxLength: 500 })),
  },
  { $id: 'SectionInput' },
);
export type SectionInput = Static<typeof SectionInput>;

export const ValuesView = Type.Record(Type.String(), Type.Union([num(), text(), bool()]), {
  description:
    'By field, such as dryingH; GET /api/lots lists the fields. A user’s own field has its title as key, with the unit in square brackets: Shredder screen [mm]',
});

export const LotView = component('Lot', {
  name: text(),
  preparation: text({ description: 'What else was done, in the words of the user' }),
  values: ValuesView,
});
export type LotView = Static<typeof LotView>;

export const LotsView = component('Lots', {
  fields: list(
    Type.Object({
      key: text(),
      title: text(),
      unit: text(),
      kind: oneOf(['number', 'word', 'yesNo', 'any']),
      minimum: Type.Optional(num()),
      maximum: Type.Optional(num()),
    }),
  ),
  runs: list(
    Type.Object({
      runId: int(),
      startedMs: num(),
      timeZone: text(),
      lot: orNull(LotView),
      proposed: ValuesView,
    }),
  ),
});
export type LotsView = Static<typeof LotsView>;

/** Numbers may be texts with a unit: 8, "8 h" and "480 min" are the same. */
export const ValueInput = Type.Union([num(), text({ maxLength: 60 }), bool()]);

/** All empty = remove the material. Without `values`, those entered before stay. */
export const LotInput = input(
  {
    name: text({ maxLength: 60 }),
    preparation: Type.Optional(text({ maxLength: 500 })),
    values: Type.Optional(Type.Record(text({ maxLength: 60 }), ValueInput)),
  },
  { $id: 'LotInput' },
);

export const LimitsView = component(
  'Limits',
  {
    nominalMm: num(),
    toleranceMm: num(),
    hotendLimitMm: num(),
    smallestFeedableMm: num(),
    strandPresentMm: num({ description: 'Below this diameter there is no strand in the gauge' }),
  },
  'The limits that strand is judged by.',
);
export type LimitsView = Static<typeof LimitsView>;

const choices = {
  printerId: int({ minimum: 0, description: 'Id of a printer; 0 = this line’s own limits' }),
  objective: oneOf(
    CUT_OBJECTIVES,
    'mostLength = keep as much strand as possible; fewestCuts = as few cuts as possible while keeping 90 % of that; longestCoil = the longest single coil; prints = coils for as many of `prints` as possible',
  ),
  prints: Type.Array(
    input({
      amount: num({ exclusiveMinimum: 0, maximum: PRINT_AMOUNT_MAX, description: 'Strand that the print needs' }),
      unit: oneOf(['grams', 'metres']),
    }),
    { maxItems: 10, description: 'Prints to be made of this spool' },
  ),
  shortestMm: numOrNull({ description: 'Shortest coil worth keeping; null = as in the settings of the line' }),
  doubtful: oneOf(['keep', 'cut'], 'What to do with doubtful stretches'),
  unknown: oneOf(['keep', 'cut'], 'What to do with stretches that were not reliably measured'),
};
export const SpoolChoicesView = component(
  'SpoolChoices',
  choices,
  'How a spool is judged and cut; stored with the spool.',
);
export type SpoolChoicesView = Static<typeof SpoolChoicesView>;

/** Fields that are left out keep their value. */
export const SpoolChoicesInput = Type.Partial(Type.Object(choices), {
  $id: 'SpoolChoicesInput',
  additionalProperties: false,
});

export const FitnessView = oneOf(FITNESSES);
export const VerdictView = component('Verdict', {
  fitness: FitnessView,
  sentence: text({ description: 'The verdict in one sentence' }),
  reasons: list(text()),
  longestCleanPiece: orNull(
    Type.Object({ fromMm: num({ digits: 1 }), toMm: num({ digits: 1 }), lengthMm: num({ digits: 1 }) }),
  ),
  afterCutting: orNull(
    Type.Object({ keptMm: num({ digits: 1 }), coils: int(), longestCoilMm: num({ digits: 1 }), cuts: int() }),
    'Measured strand that the cut list keeps; null = nothing needs to be cut',
  ),
});
export type VerdictView = Static<typeof VerdictView>;

/** Zero is no amount: it would be reached at once. */
export const Wanted = input({
  amount: num({ exclusiveMinimum: 0, maximum: PRINT_AMOUNT_MAX }),
  unit: oneOf(['grams', 'metres']),
});

const CutOuts = list(
  Type.Object({ fromMm: num({ digits: 1 }), toMm: num({ digits: 1 }) }),
  'Strand that users cut out before it was wound: gauge lengths, rising. It has no length on the spool',
);

export const SpoolView = component('Spool', {
  id: int(),
  runId: int(),
  ordinal: int(),
  name: text({ description: 'Such as R3-1 = run 3, spool 1; K7M-R3-1 if another house, K7M, made it' }),
  title: text({ description: 'What users call it; empty = nothing' }),
  code: text({ description: 'As printed on its label: the name with the code of the house' }),
  startedMs: num(),
  endedMs: numOrNull(),
  startGaugeMm: num({ digits: 1 }),
  lengthFactor: num({
    digits: 6,
    description:
      'From a tape measurement: true length = this × counted length. All lengths of the spool are true ones; 1 = as counted',
  }),
  cutOuts: CutOuts,
  woundMm: num({ digits: 1, description: 'Length wound' }),
  cutOffMm: num({ digits: 1, description: 'Length since cut off at the rewinder' }),
  isCut: bool('Nothing is left to cut'),
  judgedBy: oneOf(
    ['run', 'printer'],
    'run = by the limits in force while it was wound; printer = by those of the printer chosen for the spool',
  ),
  printerName: text(),
  limits: LimitsView,
  limitsWhenWound: LimitsView,
  limitsChanged: bool('The limits changed while it was wound; limitsWhenWound are the last ones'),
  discardMm: num({ digits: 1, description: 'Bad strand: length within sections to discard' }),
  doubtfulMm: num({ digits: 1 }),
  unknownMm: num({ digits: 1 }),
  longestCleanMm: num({ digits: 1 }),
  kept: orNull(
    Type.Object({ keptMm: num({ digits: 1 }), coils: int(), longestCoilMm: num({ digits: 1 }) }),
    'What its cut list keeps, without margins, doubtful strand to be cut and pieces that are too short; null = nothing is wound',
  ),
  verdict: orNull(VerdictView),
  choices: SpoolChoicesView,
  note: text(),
});
export type SpoolView = Static<typeof SpoolView>;

export const LiveSpool = component(
  'LiveSpool',
  {
    id: int(),
    runId: int(),
    ordinal: int(),
    startedMs: num(),
    startGaugeMm: num({ digits: 1 }),
    cutOuts: CutOuts,
    wanted: orNull(Wanted),
    woundMm: num({ digits: 1 }),
    woundG: num({ digits: 2 }),
    discardMm: num({ digits: 1 }),
    capacityMm: numOrNull({ digits: 0, description: 'Length of a full spool; null = places on it are not known' }),
    wantedMm: numOrNull({ digits: 0, description: 'Length of the wanted amount; null = none is wanted' }),
    toCutOut: list(
      Type.Object({ fromMm: num({ digits: 0 }), toMm: num({ digits: 0 }) }),
      'Stretches to discard, by position, for a picture of the whole spool: near ones are one',
    ),
  },
  'The spool being wound, in lengths as counted by the line and by the line’s own limits.',
);
export type LiveSpool = Static<typeof LiveSpool>;

const trouble = {
  title: text(),
  atMs: num(),
  zone: orNull(int(), 'The heated zone that it is about'),
};

export const RunView = component('Run', {
  id: int(),
  startedMs: num(),
  endedMs: numOrNull(),
  timeZone: text(),
  sourceTitle: text(),
  example: bool('Simulated at the first start, only to look at: it says nothing about the line'),
  note: text(),
  title: text({ description: 'What users call it; empty = nothing' }),
  isTest: bool('Left out of trends and of what preparations did'),
  lot: orNull(LotView),
  spools: int(),
  woundMm: num({ digits: 1 }),
  discardMm: num({ digits: 1, description: 'Bad strand: length within sections to discard' }),
  doubtfulMm: num({ digits: 1 }),
  unknownMm: num({ digits: 1, description: 'Not measured' }),
  keptMm: num({ digits: 1, description: 'What the cut lists of its spools keep' }),
  coils: int({ description: 'Number of coils that this makes' }),
  longestCoilMm: num({ digits: 1 }),
  blobs: int(),
  alarms: int({ description: 'Alarms raised during the run' }),
  worstMm: numOrNull({ digits: 4, description: 'Largest diameter of any section' }),
  diameterMeanMm: numOrNull({ digits: 4, description: 'Over all that was wound; null as for diameterSdMm' }),
  diameterSdMm: numOrNull({
    digits: 5,
    description:
      'Standard deviation of the diameter over all that was wound; null = nothing was, or single readings were deleted',
  }),
  unreadableRows: int({ description: 'Entries of its record that cannot be read and are left out' }),
  verdict: Type.Object({
    quality: orNull(oneOf(RUN_QUALITIES), 'null = nothing is wound, or too little so far'),
    reason: text({ description: 'One or two sentences' }),
  }),
  trouble: orNull(
    Type.Object({
      ...trouble,
      more: int({ description: 'Number of later ones' }),
      followedBy: orNull(
        Type.Object({ kind: oneOf(SECTION_KINDS), atMs: num() }),
        'A lasting change of the strand within half an hour after it',
      ),
    }),
    'The first alarm about heat, gauge or cable while strand was wound; null = none',
  ),
});
export type RunView = Static<typeof RunView>;

export const SpoolRow = component(
  'SpoolRow',
  {
    id: int(),
    runId: int(),
    name: text(),
    title: text(),
    startedMs: num(),
    endedMs: numOrNull(),
    timeZone: text(),
    example: bool(),
    lot: orNull(LotView),
    note: text(),
    woundMm: num({ digits: 1 }),
    unknownMm: num({ digits: 1, description: 'Not measured' }),
    keptMm: num({ digits: 1, description: 'What its cut list keeps' }),
    cutOffMm: num({ digits: 1 }),
    isCut: bool('Nothing is left to cut'),
    blobs: int(),
    diameterSdMm: numOrNull({ digits: 5, description: 'null = nothing was wound, or single readings were deleted' }),
    fitness: orNull(FitnessView, 'For the printer chosen for it; null = nothing is wound'),
    coils: int({ description: 'Number of coils that cutting makes' }),
    longestCoilMm: num({ digits: 1 }),
    reason: text({ description: 'The first reason of its verdict; empty = none' }),
  },
  'A spool in the list of all.',
);
export type SpoolRow = Static<typeof SpoolRow>;

export const DismissedView = component(
  'DismissedSection',
  {
    spoolId: int(),
    id: text(),
    kind: oneOf(SECTION_KINDS),
    fromSpoolMm: num({ digits: 1 }),
    toSpoolMm: num({ digits: 1 }),
    peakMm: numOrNull({ digits: 4 }),
    who: orNull(text(), 'null = not known'),
    reason: text({ description: 'Why, as the user said; empty = not said' }),
  },
  'A section that a user dismissed.',
);
export type DismissedView = Static<typeof DismissedView>;

export const SpoolDetail = component('SpoolDetail', {
  spool: SpoolView,
  run: RunView,
  sections: list(SectionView),
  dismissed: list(DismissedView),
});
export type SpoolDetail = Static<typeof SpoolDetail>;

export const RunDatesView = component(
  'RunDates',
  {
    correctedStartMs: numOrNull({ description: 'Start of the run with the corrected date; null = nothing to correct' }),
    originalStartMs: numOrNull({ description: 'Start before it was corrected; null = it cannot be moved back' }),
    isKept: bool('The date can be corrected, but a user decided to keep it'),
  },
  'The dates that a run could have, if the clock of the machine was wrong while it was made.',
);
export type RunDatesView = Static<typeof RunDatesView>;

export const RunDetail = component('RunDetail', {
  run: RunView,
  dates: RunDatesView,
  spools: list(SpoolView),
  limits: LimitsView,
  sections: list(SectionView),
  dismissed: list(DismissedView),
  extent: orNull(
    Type.Object({
      count: int(),
      fromMs: num(),
      toMs: num(),
      fromGaugeMm: num(),
      toGaugeMm: num(),
      signals: list(Type.Object({ name: text(), unit: text() })),
    }),
    'What is stored of the run; null = no readings',
  ),
  troubles: list(
    Type.Object(trouble, { description: 'Alarms about heat, gauge or cable while strand was wound, and lost strand' }),
  ),
  alarms: list(
    Type.Object({
      timeMs: num(),
      step: oneOf(ALARM_STEPS),
      by: orNull(text()),
      from: orNull(text({ description: 'Network address and kind of device' })),
      reason: text(),
      alarm: AlarmView,
    }),
  ),
  log: list(Type.Object({ timeMs: num(), who: text(), what: text() })),
});
export type RunDetail = Static<typeof RunDetail>;

export const RelatedReadingsView = component(
  'RelatedReadings',
  {
    tried: int({ description: 'Number of signals that were compared with the strand; 0 = too little was wound' }),
    found: list(
      Type.Object({
        signal: text(),
        strand: oneOf(['diameter', 'badStretches']),
        lagMs: num({ digits: 0, description: 'How much later the strand followed' }),
        correlation: num({ digits: 3, description: 'Of the ranks without slow drift, −1 to 1' }),
        chance: num({ description: 'Of so close a relation between unrelated signals, for all that were tried' }),
      }),
      'The surest first',
    ),
  },
  'Signals that moved before or with the strand: an observation, not a cause.',
);
export type RelatedReadingsView = Static<typeof RelatedReadingsView>;

const SignalColumnsView = component('SignalColumns', {
  min: list(numOrNull()),
  max: list(numOrNull()),
  mean: list(numOrNull()),
  sd: Type.Optional(list(numOrNull())),
});

export const WindowView = component(
  'Window',
  {
    axis: oneOf(['time', 'length']),
    from: num(),
    to: num(),
    count: list(int()),
    timeMs: list(numOrNull()),
    gaugeMm: list(numOrNull()),
    signals: Type.Record(Type.String(), SignalColumnsView),
  },
  'Column i starts at from + (to − from) × i / columns. The first column starts at “from” and the last one ends at “to” exactly. If columns hold more than 256 readings, the edges between them may be off by up to an eighth of a column. Count, extremes, mean and standard deviation are exact for the readings from timeMs (the first reading of the column) up to the first reading of the next column.',
);
export type WindowView = Static<typeof WindowView>;
