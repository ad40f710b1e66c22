import { type Static, Type } from 'typebox';
import { ALARM_STATES, ALARM_STEPS, ALARM_TYPES, PRIORITIES } from '../alarm/alarm.ts';
import { HEAT_FAULTS, ZONE_DOINGS } from '../heat/zone-status.ts';
import { DROP_CAUSES } from '../reading/link-counters.ts';
import { ADVICE_KINDS } from '../strand/advice.ts';
import { SECTION_KINDS, VERDICTS } from '../strand/section.ts';
import { STAGES } from '../strand/stage.ts';
import { FITNESSES } from '../strand/verdict/spool-verdict.ts';

/** What travels between the service and the page. Times are UTC ms, lengths mm, temperatures °C, power 0…1. */

const words = <const T extends readonly string[]>(values: T) =>
  Type.Unsafe<T[number]>({ type: 'string', enum: values });
const orNull = <T extends Parameters<typeof Type.Union>[0][number]>(schema: T) => Type.Union([schema, Type.Null()]);
const num = orNull(Type.Number());

export const SectionView = Type.Object(
  {
    id: Type.String({
      description:
        'm12 = recorded, p5 = marked by a user, j12345 = not in the record: the limits of the chosen printer show it',
    }),
    spoolId: orNull(Type.Integer()),
    kind: words(SECTION_KINDS),
    fromGaugeMm: Type.Number({ description: 'As the line counted it, from the beginning of the run' }),
    toGaugeMm: Type.Number(),
    fromSpoolMm: orNull(
      Type.Number({
        description: 'From the inner end of the spool, put right by a tape measurement where there is one',
      }),
    ),
    toSpoolMm: num,
    fromOuterMm: orNull(
      Type.Number({
        description: 'Its edge nearer to the outer end, from there; null while it is on no finished spool',
      }),
    ),
    toOuterMm: num,
    fromTimeMs: num,
    toTimeMs: num,
    peakMm: orNull(Type.Number({ description: 'Diameter furthest beyond the limit' })),
    peakSpoolMm: num,
    volumeBeyondMm3: num,
    certainty: Type.Unsafe<'sure' | 'inDoubt'>({
      type: 'string',
      enum: ['sure', 'inDoubt'],
      description: 'Decision rule of ISO 14253-1',
    }),
    verdict: words(VERDICTS),
    note: Type.String(),
    origin: words(['measured', 'adjusted', 'person']),
    open: Type.Boolean(),
    reachesWinderInS: orNull(
      Type.Number({
        description: 'null once it is wound, or while the strand stands still',
      }),
    ),
  },
  { $id: 'Section' },
);
export type SectionView = Static<typeof SectionView>;

export const AlarmView = Type.Object(
  {
    id: Type.Integer(),
    type: words(ALARM_TYPES),
    title: Type.String({
      description: 'Two or three words: "Blob", "Zone 2: no rise"',
    }),
    subject: Type.String(),
    priority: words(PRIORITIES),
    state: words(ALARM_STATES),
    sentence: Type.String(),
    consequence: Type.String({ description: 'What happens if nobody does anything' }),
    firstCheck: Type.String(),
    caution: Type.String(),
    occurrences: Type.Integer(),
    raisedMs: Type.Number(),
    lastOccurredMs: Type.Number(),
    returnedMs: num,
    ceasedMs: orNull(Type.Number({ description: 'When the condition itself ceased: before the off-delay' })),
    acknowledgedMs: num,
    acknowledgedBy: orNull(Type.String()),
    longestShelfMin: Type.Number({ description: 'It may be shelved for so long at most' }),
    rest: orNull(
      Type.Object({
        sinceMs: Type.Number(),
        untilMs: orNull(Type.Number({ description: 'It comes back by itself then at the latest' })),
        untilRunEnds: Type.Boolean(),
        reason: Type.String(),
        by: orNull(Type.String({ description: 'null = by design' })),
        from: orNull(Type.String()),
        occurred: Type.Integer({ description: 'How often it occurred meanwhile' }),
      }),
    ),
  },
  { $id: 'Alarm' },
);
export type AlarmView = Static<typeof AlarmView>;

export const LotView = Type.Object({
  name: Type.String(),
  preparation: Type.String({ description: 'Sorted, sieved, dried, blended: how and how long' }),
});
export type LotView = Static<typeof LotView>;

/** PUT /api/runs/:id/lot. Both empty = taken back. */
export const LotInput = Type.Object(
  {
    name: Type.String({ maxLength: 60 }),
    preparation: Type.Optional(Type.String({ maxLength: 500 })),
    by: Type.Optional(Type.String({ minLength: 1, maxLength: 60 })),
  },
  { $id: 'LotInput', additionalProperties: false },
);

/** What strand is judged against. */
export const LimitsView = Type.Object({
  nominalMm: Type.Number(),
  toleranceMm: Type.Number(),
  hotendLimitMm: Type.Number(),
  leastFeedableMm: Type.Number(),
  strandPresentMm: Type.Number({ description: 'Below this there is no strand in the gauge' }),
});
export type LimitsView = Static<typeof LimitsView>;

export const RunView = Type.Object(
  {
    id: Type.Integer(),
    startedMs: Type.Number(),
    endedMs: num,
    timeZone: Type.String(),
    sourceTitle: Type.String(),
    note: Type.String(),
    lot: orNull(LotView),
    spools: Type.Integer(),
    woundMm: Type.Number(),
    discardMm: Type.Number({
      description: 'Bad strand by the limits of that night: what lies between the edges of sections to discard',
    }),
    keptMm: Type.Number({ description: 'What the plans of its spools keep, by the limits of that night' }),
    coils: Type.Integer({ description: 'In so many coils' }),
    blobs: Type.Integer(),
    alarms: Type.Integer({ description: 'Alarms raised in the run' }),
    worstMm: orNull(Type.Number({ description: 'Largest diameter of any section' })),
    verdict: Type.String({ description: 'One plain sentence' }),
  },
  { $id: 'Run' },
);
export type RunView = Static<typeof RunView>;

/** How a spool is judged and cut; kept with the spool. */
export const SpoolChoicesView = Type.Object({
  printerId: Type.Integer({ minimum: 0, description: 'Id of a printer; 0 = this line’s own limits' }),
  objective: Type.Unsafe<'mostLength' | 'fewestCuts'>({
    type: 'string',
    enum: ['mostLength', 'fewestCuts'],
    description: 'mostLength = the most strand in coils; fewestCuts = the fewest cuts that keep 90 % of that',
  }),
  shortestMm: orNull(Type.Number({ description: 'Shortest coil worth keeping; null = as set for the line' })),
  doubtful: Type.Unsafe<'keep' | 'cut'>({
    type: 'string',
    enum: ['keep', 'cut'],
    description: 'What to do with doubtful stretches',
  }),
  unknown: Type.Unsafe<'keep' | 'cut'>({
    type: 'string',
    enum: ['keep', 'cut'],
    description: 'What to do with stretches that were never measured',
  }),
});
export type SpoolChoicesView = Static<typeof SpoolChoicesView>;

/** PUT /api/spools/:id/choices: what is left out stays as it is. */
export const SpoolChoicesInput = Type.Partial(SpoolChoicesView, {
  $id: 'SpoolChoicesInput',
  additionalProperties: false,
});

export const FitnessView = words(FITNESSES);
export const VerdictView = Type.Object(
  {
    fitness: FitnessView,
    sentence: Type.String({ description: 'One line that says it' }),
    reasons: Type.Array(Type.String()),
    longestCleanPiece: orNull(Type.Object({ fromMm: Type.Number(), toMm: Type.Number(), lengthMm: Type.Number() })),
    afterCutting: orNull(
      Type.Object(
        {
          keptMm: Type.Number(),
          coils: Type.Integer(),
          longestCoilMm: Type.Number(),
          cuts: Type.Integer(),
        },
        { description: 'What the plan keeps of measured strand; null = nothing needs to be cut' },
      ),
    ),
  },
  { $id: 'Verdict' },
);
export type VerdictView = Static<typeof VerdictView>;

export const SpoolView = Type.Object(
  {
    id: Type.Integer(),
    runId: Type.Integer(),
    ordinal: Type.Integer(),
    name: Type.String({ description: 'As plan and coils call it: R3-1 = run 3, spool 1' }),
    startedMs: Type.Number(),
    endedMs: num,
    startGaugeMm: Type.Number(),
    lengthFactor: Type.Number({
      description:
        'By tape: true length = this × what the line counted. Every length of the spool is a true one; 1 = as counted',
    }),
    woundMm: Type.Number({ description: 'Length that was wound' }),
    offMm: Type.Number({ description: 'Of that cut off at the rewinder since' }),
    judgedBy: Type.Unsafe<'night' | 'printer'>({
      type: 'string',
      enum: ['night', 'printer'],
      description:
        'night = by the limits that it was wound under, as a run is told; printer = by the printer that is chosen for the spool',
    }),
    printerName: Type.String(),
    limits: LimitsView,
    woundUnder: LimitsView,
    limitsChanged: Type.Boolean({ description: 'While it was wound; those that held last are told' }),
    discardMm: Type.Number({ description: 'Bad strand: what lies between the edges of sections to discard' }),
    doubtfulMm: Type.Number(),
    unknownMm: Type.Number(),
    longestCleanMm: Type.Number(),
    kept: orNull(
      Type.Object(
        { keptMm: Type.Number(), coils: Type.Integer(), longestCoilMm: Type.Number() },
        {
          description:
            'What its plan keeps: margins, doubtful strand and pieces too short to keep go too; null = nothing is wound',
        },
      ),
    ),
    verdict: orNull(VerdictView),
    choices: SpoolChoicesView,
    note: Type.String(),
  },
  { $id: 'Spool' },
);
export type SpoolView = Static<typeof SpoolView>;

/** The spool that is being wound, as the line counts it and by the line's own limits. */
export const LiveSpool = Type.Object({
  id: Type.Integer(),
  runId: Type.Integer(),
  ordinal: Type.Integer(),
  startedMs: Type.Number(),
  startGaugeMm: Type.Number(),
  woundMm: Type.Number(),
  woundG: Type.Number(),
  discardMm: Type.Number(),
});
export type LiveSpool = Static<typeof LiveSpool>;

export const ZoneView = Type.Object(
  {
    zone: Type.Integer(),
    name: Type.String(),
    doing: words(ZONE_DOINGS),
    temperatureC: num,
    setpointC: num,
    power: num,
    faults: Type.Array(words(HEAT_FAULTS)),
    atHeatSinceMs: num,
    expectedLowC: Type.Union([Type.Number(), Type.Null()], {
      description: 'Where the reading is expected by its learnt model; null = not learnt yet, or its power is not told',
    }),
    expectedHighC: num,
  },
  { $id: 'Zone' },
);
export type ZoneView = Static<typeof ZoneView>;

export const ExpectedHeat = Type.Object(
  {
    zones: Type.Array(
      Type.Object({
        zone: Type.Integer(),
        timeMs: Type.Array(Type.Number()),
        lowC: Type.Array(Type.Number()),
        highC: Type.Array(Type.Number()),
      }),
    ),
  },
  { $id: 'ExpectedHeat', description: 'A value every five seconds; a pause = nothing could be expected' },
);
export type ExpectedHeat = Static<typeof ExpectedHeat>;

export const LinkView = Type.Object(
  {
    sourceTitle: Type.String(),
    timing: words(['live', 'recorded']),
    stagedAs: orNull(
      Type.Object(
        { what: words(['replay', 'simulation']), pace: Type.Union([Type.Number(), Type.Literal('max')]) },
        { description: 'What it is, and how many times its own time it runs; null = a line that runs now' },
      ),
    ),
    phase: words(['opening', 'open', 'waiting', 'ended', 'closed']),
    words: Type.String({
      description: 'What the source says of its connection',
    }),
    silentForS: orNull(
      Type.Number({
        description: 'Since the last reading line; null before the first',
      }),
    ),
    linesPerS: Type.Number(),
    shape: orNull(words(['named', 'json', 'columns'])),
    checksum: words(['none', 'optional', 'required']),
    received: Type.Integer(),
    readings: Type.Integer(),
    lost: Type.Integer(),
    restarts: Type.Integer(),
    dropped: Type.Object(
      Object.fromEntries(DROP_CAUSES.map((cause) => [cause, Type.Integer()])) as Record<
        (typeof DROP_CAUSES)[number],
        ReturnType<typeof Type.Integer>
      >,
    ),
    notes: Type.Array(Type.Object({ timeMs: Type.Number(), text: Type.String() }), {
      description: 'The last notes of the firmware, newest first',
    }),
    lastLine: Type.String({
      description: 'The last line as it came, for the set-up',
    }),
  },
  { $id: 'Link' },
);
export type LinkView = Static<typeof LinkView>;

/** Something to know that is no alarm. Positions on the spool, mm; null = of no stretch. */
export const AdviceView = Type.Object(
  {
    kind: words(ADVICE_KINDS),
    sentence: Type.String(),
    hint: Type.String({ description: 'What to check first' }),
    fromMm: num,
    toMm: num,
    open: Type.Boolean({ description: 'It goes on' }),
  },
  { $id: 'Advice' },
);
export type AdviceView = Static<typeof AdviceView>;

export const LiveState = Type.Object(
  {
    serverTimeMs: Type.Number(),
    boot: Type.String({
      description: 'Differs after a restart of the service',
    }),
    spoolsSaid: Type.Integer({
      description:
        'Rises when a user states, chooses, cuts or measures something of a spool: what is shown of spools is old then',
    }),
    /** The one sentence that says it all, and how loud it is. */
    sentence: Type.String(),
    loudness: words(['calm', 'notice', 'abnormal', 'danger']),
    lineName: Type.String(),
    link: LinkView,
    stage: Type.Object({
      stage: words(STAGES),
      byPerson: Type.Boolean(),
      sinceMs: Type.Number(),
      missing: Type.Array(Type.String(), {
        description: 'What is still missing before winding; empty = ready',
      }),
    }),
    run: orNull(
      Type.Object({
        id: Type.Integer(),
        startedMs: Type.Number(),
        timeZone: Type.String(),
        lot: orNull(LotView),
      }),
    ),
    spool: orNull(LiveSpool),
    now: Type.Object({
      timeMs: num,
      gaugeMm: Type.Number(),
      spoolMm: num,
      diameterMm: num,
      outOfRoundMm: num,
      speedMmPerS: num,
      shortestSeenMm: orNull(
        Type.Number({
          description: 'Sample pitch = speed / rate: a blob shorter than this may pass unseen',
        }),
      ),
      free: Type.Array(Type.Object({ name: Type.String(), unit: Type.String(), value: num })),
    }),
    zones: Type.Array(ZoneView),
    heat: Type.Object({
      beforeScrew: Type.Array(Type.String(), {
        description: 'What is missing before the screw may turn; empty = it may',
      }),
      learntZones: Type.Array(Type.Integer(), { description: 'Zones whose model is known from their heat-ups' }),
      withoutPower: Type.Array(Type.Integer(), {
        description: 'Zones whose power the line does not tell: faults are found later, and a weak heater not at all',
      }),
    }),
    sections: Type.Array(SectionView, {
      description: 'Those still between the gauge and the winder, and the last ten, newest first',
    }),
    notWatched: Type.Array(words(['strand', 'heat']), {
      description: 'What cannot be watched although lines come, because what it needs is not sent or not understood',
    }),
    troubles: Type.Array(Type.String(), {
      description: 'What is wrong with reaching people, a sentence each',
    }),
    alarms: Type.Array(AlarmView, {
      description: 'All that call or called for somebody, most urgent first',
    }),
    // Written out: the same $id twice in one schema cannot be resolved.
    resting: Type.Array(Type.Object(AlarmView.properties), {
      description: 'All that are shelved, suppressed by design or out of service',
    }),
    advice: Type.Array(AdviceView, {
      description: 'To be known now: drift, surging, a gauge that cannot see enough',
    }),
    limits: Type.Object({
      ...LimitsView.properties,
      gaugeToWinderMm: Type.Number(),
      absoluteLimitC: Type.Number(),
    }),
  },
  { $id: 'LiveState' },
);
export type LiveState = Static<typeof LiveState>;

/**
 * Readings since the last frame, as parallel arrays; null = no value. Where more came than a frame may hold they are
 * thinned, keeping each group's smallest and largest diameter.
 */
export interface ReadingsFrame {
  readonly kind: 'readings';
  readonly runId: number | null;
  readonly timeMs: readonly number[];
  readonly gaugeMm: readonly number[];
  readonly diameterMm: readonly (number | null)[];
  readonly speedMmPerS: readonly (number | null)[];
  readonly zones: readonly {
    readonly zone: number;
    readonly temperatureC: readonly (number | null)[];
    readonly setpointC: readonly (number | null)[];
    readonly power: readonly (number | null)[];
  }[];
}

/** The whole live state: on connection, at once when an alarm, a section or the stage changes, and 4 times a second. */
export interface StateFrame {
  readonly kind: 'state';
  readonly state: LiveState;
}

/** This client was too slow and frames were left out: it should fetch the window anew. */
export interface SkippedFrame {
  readonly kind: 'skipped';
  readonly frames: number;
}

/** What comes over the WebSocket `/live`: JSON text. The client sends nothing. */
export type LiveFrame = ReadingsFrame | StateFrame | SkippedFrame;

export const ChannelColumnsView = Type.Object({
  min: Type.Array(num),
  max: Type.Array(num),
  mean: Type.Array(num),
  sd: Type.Optional(Type.Array(num)),
});

export const WindowView = Type.Object(
  {
    axis: words(['time', 'length']),
    from: Type.Number(),
    to: Type.Number(),
    count: Type.Array(Type.Integer()),
    timeMs: Type.Array(num),
    gaugeMm: Type.Array(num),
    channels: Type.Record(Type.String(), ChannelColumnsView),
  },
  {
    $id: 'Window',
    description:
      'Column i begins at from + (to − from) × i / columns. The first one begins at “from” and the last one ends at “to” exactly; where columns hold more than 256 readings, the edges between them may lie up to an eighth of a column beside their place. Count, extremes, mean and standard deviation are exactly those of the readings from timeMs (the first of the column) to the next column’s first one.',
  },
);
export type WindowView = Static<typeof WindowView>;

export const RunDetail = Type.Object(
  {
    run: RunView,
    spools: Type.Array(SpoolView),
    limits: LimitsView,
    sections: Type.Array(SectionView),
    /** null = no readings. */
    extent: orNull(
      Type.Object({
        count: Type.Integer(),
        fromMs: Type.Number(),
        toMs: Type.Number(),
        fromGaugeMm: Type.Number(),
        toGaugeMm: Type.Number(),
        channels: Type.Array(Type.Object({ name: Type.String(), unit: Type.String() })),
      }),
    ),
    alarms: Type.Array(
      Type.Object({
        timeMs: Type.Number(),
        what: words(ALARM_STEPS),
        by: orNull(Type.String()),
        from: orNull(Type.String({ description: 'Address and kind of device' })),
        why: Type.String(),
        alarm: AlarmView,
      }),
    ),
    log: Type.Array(
      Type.Object({
        timeMs: Type.Number(),
        who: Type.String(),
        what: Type.String(),
      }),
    ),
  },
  { $id: 'RunDetail' },
);
export type RunDetail = Static<typeof RunDetail>;

export const SpoolDetail = Type.Object(
  { spool: SpoolView, run: RunView, sections: Type.Array(SectionView) },
  { $id: 'SpoolDetail' },
);
export type SpoolDetail = Static<typeof SpoolDetail>;

/** A section that a person marks or adjusts; positions as they are told of sections: true mm from the inner end. */
export const SectionInput = Type.Object(
  {
    fromSpoolMm: Type.Number(),
    toSpoolMm: Type.Number(),
    verdict: words(VERDICTS),
    note: Type.Optional(Type.String({ maxLength: 500 })),
  },
  { $id: 'SectionInput', additionalProperties: false },
);
export type SectionInput = Static<typeof SectionInput>;

/** RFC 9457 problem details. */
export const ProblemView = Type.Object(
  {
    type: Type.String({ description: 'urn:strandward:problem:CODE' }),
    title: Type.String({ description: 'What is wrong' }),
    status: Type.Integer(),
    detail: Type.String({ description: 'What to do' }),
  },
  { $id: 'Problem' },
);
export type ProblemView = Static<typeof ProblemView>;
