import { type Static, Type } from 'typebox';
import { ALARM_STEPS } from '../../alarm/alarm.ts';
import { SECTION_KINDS, VERDICTS } from '../../strand/section.ts';
import { FITNESSES } from '../../strand/verdict/spool-verdict.ts';
import { AlarmView } from './alarms.ts';
import { given, int, list, named, num, numOrNull, oneOf, orNull, text, yes } from './schema.ts';

/** How a section, a spool and a run are described, wherever they appear. A run is told by the limits of its night. */

export const SectionView = named('Section', {
  id: text({
    description:
      'm12 = recorded, p5 = marked by a user, j12345 = not in the record: only the limits of the chosen printer show it',
  }),
  spoolId: orNull(int()),
  kind: oneOf(SECTION_KINDS),
  fromGaugeMm: num({ digits: 1, description: 'As the line counted it, from the start of the run' }),
  toGaugeMm: num({ digits: 1 }),
  fromSpoolMm: numOrNull({
    digits: 1,
    description: 'From the inner end of the spool, corrected by a tape measurement where there is one',
  }),
  toSpoolMm: numOrNull({ digits: 1 }),
  fromOuterMm: numOrNull({
    digits: 1,
    description: 'Its edge nearer to the outer end, from there; null while it is on no finished spool',
  }),
  toOuterMm: numOrNull({ digits: 1 }),
  fromTimeMs: numOrNull(),
  toTimeMs: numOrNull(),
  peakMm: numOrNull({ digits: 4, description: 'Diameter furthest beyond the limit' }),
  peakSpoolMm: numOrNull({ digits: 1 }),
  volumeBeyondMm3: numOrNull({ digits: 3 }),
  certainty: oneOf(['sure', 'inDoubt'], 'Decision rule of ISO 14253-1'),
  verdict: oneOf(VERDICTS),
  note: text(),
  origin: oneOf(['measured', 'adjusted', 'person']),
  open: yes(),
  reachesWinderInS: numOrNull({ digits: 1, description: 'null once it is wound, or while the strand stands still' }),
});
export type SectionView = Static<typeof SectionView>;

/** A section that a person marks or adjusts; positions as in sections: true mm from the inner end. */
export const SectionInput = given(
  {
    fromSpoolMm: num(),
    toSpoolMm: num(),
    verdict: oneOf(VERDICTS),
    note: Type.Optional(text({ maxLength: 500 })),
  },
  { $id: 'SectionInput' },
);
export type SectionInput = Static<typeof SectionInput>;

export const LotView = named('Lot', {
  name: text(),
  preparation: text({ description: 'Sorted, sieved, dried, blended: how and how long' }),
});
export type LotView = Static<typeof LotView>;

/** Both empty = no material entered any more. */
export const LotInput = given(
  {
    name: text({ maxLength: 60 }),
    preparation: Type.Optional(text({ maxLength: 500 })),
  },
  { $id: 'LotInput' },
);

export const LimitsView = named(
  'Limits',
  {
    nominalMm: num(),
    toleranceMm: num(),
    hotendLimitMm: num(),
    leastFeedableMm: num(),
    strandPresentMm: num({ description: 'Below this there is no strand in the gauge' }),
  },
  'What strand is judged against.',
);
export type LimitsView = Static<typeof LimitsView>;

const choices = {
  printerId: int({ minimum: 0, description: 'Id of a printer; 0 = this line’s own limits' }),
  objective: oneOf(
    ['mostLength', 'fewestCuts'],
    'mostLength = the most strand in coils; fewestCuts = the fewest cuts that keep 90 % of that',
  ),
  shortestMm: numOrNull({ description: 'Shortest coil worth keeping; null = as set for the line' }),
  doubtful: oneOf(['keep', 'cut'], 'What to do with doubtful stretches'),
  unknown: oneOf(['keep', 'cut'], 'What to do with stretches that were never measured'),
};
export const SpoolChoicesView = named('SpoolChoices', choices, 'How a spool is judged and cut; kept with the spool.');
export type SpoolChoicesView = Static<typeof SpoolChoicesView>;

/** What is left out stays as it is. */
export const SpoolChoicesInput = Type.Partial(Type.Object(choices), {
  $id: 'SpoolChoicesInput',
  additionalProperties: false,
});

export const FitnessView = oneOf(FITNESSES);
export const VerdictView = named('Verdict', {
  fitness: FitnessView,
  sentence: text({ description: 'One line that says it' }),
  reasons: list(text()),
  longestCleanPiece: orNull(
    Type.Object({ fromMm: num({ digits: 1 }), toMm: num({ digits: 1 }), lengthMm: num({ digits: 1 }) }),
  ),
  afterCutting: orNull(
    Type.Object({ keptMm: num({ digits: 1 }), coils: int(), longestCoilMm: num({ digits: 1 }), cuts: int() }),
    'What the plan keeps of measured strand; null = nothing needs to be cut',
  ),
});
export type VerdictView = Static<typeof VerdictView>;

export const SpoolView = named('Spool', {
  id: int(),
  runId: int(),
  ordinal: int(),
  name: text({ description: 'As plan and coils call it: R3-1 = run 3, spool 1' }),
  startedMs: num(),
  endedMs: numOrNull(),
  startGaugeMm: num({ digits: 1 }),
  lengthFactor: num({
    digits: 6,
    description:
      'By tape: true length = this × what the line counted. Every length of the spool is a true one; 1 = as counted',
  }),
  woundMm: num({ digits: 1, description: 'Length that was wound' }),
  offMm: num({ digits: 1, description: 'Of that cut off at the rewinder since' }),
  judgedBy: oneOf(
    ['night', 'printer'],
    'night = by the limits that it was wound under, as runs are told; printer = by the printer chosen for the spool',
  ),
  printerName: text(),
  limits: LimitsView,
  woundUnder: LimitsView,
  limitsChanged: yes('While it was wound; `woundUnder` are the last ones'),
  discardMm: num({ digits: 1, description: 'Bad strand: between the edges of sections to discard' }),
  doubtfulMm: num({ digits: 1 }),
  unknownMm: num({ digits: 1 }),
  longestCleanMm: num({ digits: 1 }),
  kept: orNull(
    Type.Object({ keptMm: num({ digits: 1 }), coils: int(), longestCoilMm: num({ digits: 1 }) }),
    'What its plan keeps: margins, doubtful strand and pieces too short to keep go too; null = nothing is wound',
  ),
  verdict: orNull(VerdictView),
  choices: SpoolChoicesView,
  note: text(),
});
export type SpoolView = Static<typeof SpoolView>;

export const LiveSpool = named(
  'LiveSpool',
  {
    id: int(),
    runId: int(),
    ordinal: int(),
    startedMs: num(),
    startGaugeMm: num({ digits: 1 }),
    woundMm: num({ digits: 1 }),
    woundG: num({ digits: 2 }),
    discardMm: num({ digits: 1 }),
  },
  'The spool that is being wound, as the line counts it and by the line’s own limits.',
);
export type LiveSpool = Static<typeof LiveSpool>;

export const RunView = named('Run', {
  id: int(),
  startedMs: num(),
  endedMs: numOrNull(),
  timeZone: text(),
  sourceTitle: text(),
  note: text(),
  lot: orNull(LotView),
  spools: int(),
  woundMm: num({ digits: 1 }),
  discardMm: num({ digits: 1, description: 'Bad strand: between the edges of sections to discard' }),
  keptMm: num({ digits: 1, description: 'What the plans of its spools keep' }),
  coils: int({ description: 'In so many coils' }),
  blobs: int(),
  alarms: int({ description: 'Alarms raised in the run' }),
  worstMm: numOrNull({ digits: 4, description: 'Largest diameter of any section' }),
  verdict: text({ description: 'One plain sentence' }),
});
export type RunView = Static<typeof RunView>;

export const SpoolDetail = named('SpoolDetail', { spool: SpoolView, run: RunView, sections: list(SectionView) });
export type SpoolDetail = Static<typeof SpoolDetail>;

export const RunDetail = named('RunDetail', {
  run: RunView,
  spools: list(SpoolView),
  limits: LimitsView,
  sections: list(SectionView),
  extent: orNull(
    Type.Object({
      count: int(),
      fromMs: num(),
      toMs: num(),
      fromGaugeMm: num(),
      toGaugeMm: num(),
      channels: list(Type.Object({ name: text(), unit: text() })),
    }),
    'null = no readings',
  ),
  alarms: list(
    Type.Object({
      timeMs: num(),
      what: oneOf(ALARM_STEPS),
      by: orNull(text()),
      from: orNull(text({ description: 'Address and kind of device' })),
      why: text(),
      alarm: AlarmView,
    }),
  ),
  log: list(Type.Object({ timeMs: num(), who: text(), what: text() })),
});
export type RunDetail = Static<typeof RunDetail>;

const ChannelColumnsView = named('ChannelColumns', {
  min: list(numOrNull()),
  max: list(numOrNull()),
  mean: list(numOrNull()),
  sd: Type.Optional(list(numOrNull())),
});

export const WindowView = named(
  'Window',
  {
    axis: oneOf(['time', 'length']),
    from: num(),
    to: num(),
    count: list(int()),
    timeMs: list(numOrNull()),
    gaugeMm: list(numOrNull()),
    channels: Type.Record(Type.String(), ChannelColumnsView),
  },
  'Column i begins at from + (to − from) × i / columns. The first one begins at “from” and the last one ends at “to” exactly; where columns hold more than 256 readings, the edges between them may be up to an eighth of a column off. Count, extremes, mean and standard deviation are exactly those of the readings from timeMs (the first of the column) to the next column’s first one.',
);
export type WindowView = Static<typeof WindowView>;
