import { type Static, Type } from 'typebox';
import { HEAT_FAULTS, ZONE_STATES } from '../../heat/zone-status.ts';
import { DROP_CAUSES } from '../../reading/link-counters.ts';
import { SHAPES } from '../../reading/shape.ts';
import { STAGES } from '../../stage/stage.ts';
import { ADVICE_KINDS } from '../../strand/advice.ts';
import { AlarmView } from './alarms.ts';
import { LiveSpool, LotView, SectionView } from './runs-and-spools.ts';
import { bool, component, int, list, num, numOrNull, oneOf, orNull, text } from './schema.ts';

export const ZoneView = component('Zone', {
  zone: int(),
  name: text(),
  state: oneOf(ZONE_STATES),
  temperatureC: numOrNull({ digits: 2 }),
  setpointC: numOrNull({ digits: 2 }),
  power: numOrNull({ digits: 3 }),
  faults: list(oneOf(HEAT_FAULTS)),
  atHeatSinceMs: numOrNull(),
  expectedLowC: numOrNull({
    digits: 1,
    description:
      'Range in which its learnt model expects the temperature; null = not learnt yet, or the line does not send its power',
  }),
  expectedHighC: numOrNull({ digits: 1 }),
});
export type ZoneView = Static<typeof ZoneView>;

export const LinkView = component('Link', {
  sourceTitle: text(),
  timing: oneOf(['live', 'recorded']),
  playback: orNull(
    Type.Object({
      kind: oneOf(['replay', 'simulation']),
      pace: Type.Union([num(), Type.Literal('max')], { description: 'Multiple of the real speed' }),
    }),
    'null = a real line, read live',
  ),
  phase: oneOf(['opening', 'open', 'waiting', 'released', 'ended', 'closed']),
  text: text({ description: 'What the source reports about its connection' }),
  releasedUntilMs: numOrNull({ digits: 0, description: 'When a released port is opened again; null = not released' }),
  silentForS: numOrNull({ digits: 1, description: 'Since the last reading line; null = none yet' }),
  readingsPerS: num({ digits: 1, description: 'A reading may take several lines' }),
  shape: orNull(oneOf(SHAPES)),
  checksum: oneOf(['none', 'optional', 'required']),
  received: int(),
  readings: int(),
  lost: int(),
  restarts: int(),
  dropped: Type.Object(
    Object.fromEntries(DROP_CAUSES.map((cause) => [cause, int()])) as Record<
      (typeof DROP_CAUSES)[number],
      ReturnType<typeof int>
    >,
  ),
  notes: list(Type.Object({ timeMs: num(), text: text() }), 'The last notes of the firmware, newest first'),
  lastLine: text({ description: 'The last reading line as received, for the set-up' }),
});
export type LinkView = Static<typeof LinkView>;

export const AdviceView = component(
  'Advice',
  {
    kind: oneOf(ADVICE_KINDS),
    sentence: text(),
    hint: text({ description: 'What to check first' }),
    fromMm: numOrNull({ digits: 1 }),
    toMm: numOrNull({ digits: 1 }),
    open: bool('Ongoing'),
  },
  'Something worth knowing that is not an alarm. Positions on the spool; null = not about a particular stretch.',
);
export type AdviceView = Static<typeof AdviceView>;

export const StageView = component('Stage', {
  stage: oneOf(STAGES),
  setByUser: bool('A user set the stage; otherwise it follows from the readings'),
  sinceMs: num(),
  missing: list(text(), 'What is still missing before winding; empty = ready'),
  firstReadyMs: numOrNull({ digits: 0, description: 'When this strand was first ready to wind; null = it was not' }),
  soakSkipped: orNull(text(), 'How much of the soak was left when the strand came, as a sentence; null = nothing'),
});
export type StageView = Static<typeof StageView>;

export const LiveState = component('LiveState', {
  serverTimeMs: num({ digits: 0 }),
  boot: text({ description: 'Changes with each start of the service' }),
  spoolBoundsRevision: int({
    description:
      'Increases when a user changes something about a spool; a client should then load what it shows of spools again',
  }),
  sentence: text({ description: 'The state in one sentence' }),
  title: text({ description: 'The state in a few words, such as “Winding 41 m”' }),
  sentenceAlarmId: orNull(int(), 'The alarm that the sentence is about; null = none'),
  severity: oneOf(['calm', 'notice', 'abnormal', 'danger']),
  lineName: text(),
  link: LinkView,
  stage: StageView,
  run: orNull(Type.Object({ id: int(), startedMs: num(), timeZone: text(), lot: orNull(LotView) })),
  spool: orNull(LiveSpool),
  spoolToContinue: orNull(
    Type.Object({
      id: int(),
      ordinal: int(),
      woundMm: num({ digits: 1 }),
      sinceMm: num({ digits: 1, description: 'Strand measured since it ended, which would be added to it' }),
    }),
    'Strand is made again after a stop, and it is not certain that it is the same strand: the spool that it may go on',
  ),
  proposedSpoolChange: orNull(
    Type.Object({
      spoolId: int(),
      ordinal: int(),
      atGaugeMm: num({ description: 'Where the next spool would start, for `POST /api/spools/:id/split`' }),
      atSpoolMm: num({ digits: 1 }),
    }),
    'The winder’s turn counter started again at 0, so the spool was probably changed; only a user can tell',
  ),
  now: Type.Object({
    timeMs: numOrNull({ digits: 1 }),
    gaugeMm: num({ digits: 1 }),
    spoolMm: numOrNull({ digits: 1 }),
    diameterMm: numOrNull({ digits: 4 }),
    outOfRoundMm: numOrNull({ digits: 4 }),
    speedMmPerS: numOrNull({ digits: 2 }),
    samplePitchMm: numOrNull({
      digits: 2,
      description: 'Speed / rate of readings',
    }),
    surelySeenMm: numOrNull({ digits: 1, description: 'A blob shorter than this may pass unseen at this speed' }),
    otherSignals: list(
      Type.Object({ name: text(), unit: text(), value: numOrNull({ digits: 4 }) }),
      'Signals that the service stores but does not interpret',
    ),
  }),
  lengthJumps: int({
    description:
      'Jumps of the length counter that neither the speed nor its own rate supported, since the source was opened; they moved no position',
  }),
  zones: list(ZoneView),
  heat: Type.Object({
    missingBeforeScrew: list(text(), 'What is missing before the screw may turn; empty = nothing'),
    learntZones: list(int(), 'Zones whose model has been learnt from heat-ups'),
    visibleAfter: list(
      Type.Object({
        zone: int(),
        lostWhileHeatingS: numOrNull({ digits: 0 }),
        lostWhileHoldingS: numOrNull({ digits: 0 }),
        halfLostWhileHeatingS: numOrNull({ digits: 0 }),
        halfLostWhileHoldingS: numOrNull({ digits: 0 }),
        slippedS: numOrNull({ digits: 0 }),
        stuckWhileHoldingS: numOrNull({ digits: 0 }),
      }),
      'Time within which each fault of a learnt zone is usually reported, s: its heater lost, half of it lost, its sensor slipped out, its switch stuck on; null = normal loads or neighbouring zones could explain it while the power stays as it is',
    ),
    zonesWithoutPower: list(
      int(),
      'Zones whose power the line does not send: faults are found later, and weak heaters go undetected',
    ),
  }),
  sections: list(SectionView, 'Sections still between the gauge and the winder, and the last ten, newest first'),
  notWatched: list(
    oneOf(['strand', 'places', 'heat', 'heatInPart', 'outOfRound', 'coldScrew']),
    'What cannot be watched although reading lines arrive, because a signal is missing or cannot be understood; places = where on the spool something is',
  ),
  notificationProblems: list(text(), 'What is wrong with notifications, one sentence each'),
  settingsProblem: orNull(
    text(),
    'Which settings have their defaults or are those of an earlier version, because what was saved could not be read',
  ),
  alarms: list(AlarmView, 'Active alarms, and past ones not acknowledged yet, most urgent first'),
  suppressed: list(AlarmView, 'Silenced, suppressed by design or out of service'),
  advice: list(AdviceView, 'What is worth knowing now: drift, surging, a gauge that misses too much'),
  limits: Type.Object({
    nominalMm: num(),
    toleranceMm: num(),
    hotendLimitMm: num(),
    smallestFeedableMm: num(),
    strandPresentMm: num(),
    gaugeToWinderMm: num(),
    absoluteLimitC: num(),
  }),
});
export type LiveState = Static<typeof LiveState>;
