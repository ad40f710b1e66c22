import { type Static, Type } from 'typebox';
import { HEAT_FAULTS, ZONE_DOINGS } from '../../heat/zone-status.ts';
import { DROP_CAUSES } from '../../reading/link-counters.ts';
import { SHAPES } from '../../reading/shape.ts';
import { STAGES } from '../../stage/stage.ts';
import { ADVICE_KINDS } from '../../strand/advice.ts';
import { AlarmView } from './alarms.ts';
import { LiveSpool, LotView, SectionView } from './runs-and-spools.ts';
import { int, list, named, num, numOrNull, oneOf, orNull, text, yes } from './schema.ts';

export const ZoneView = named('Zone', {
  zone: int(),
  name: text(),
  doing: oneOf(ZONE_DOINGS),
  temperatureC: numOrNull({ digits: 2 }),
  setpointC: numOrNull({ digits: 2 }),
  power: numOrNull({ digits: 3 }),
  faults: list(oneOf(HEAT_FAULTS)),
  atHeatSinceMs: numOrNull(),
  expectedLowC: numOrNull({
    digits: 1,
    description:
      'Where its learnt model expects the reading; null = not learnt yet, or the line does not send its power',
  }),
  expectedHighC: numOrNull({ digits: 1 }),
});
export type ZoneView = Static<typeof ZoneView>;

export const LinkView = named('Link', {
  sourceTitle: text(),
  timing: oneOf(['live', 'recorded']),
  stagedAs: orNull(
    Type.Object({ what: oneOf(['replay', 'simulation']), pace: Type.Union([num(), Type.Literal('max')]) }),
    'What it is, and how many times its own speed it runs at; null = a line that runs now',
  ),
  phase: oneOf(['opening', 'open', 'waiting', 'ended', 'closed']),
  text: text({ description: 'What the source reports about its connection' }),
  silentForS: numOrNull({ digits: 1, description: 'Since the last reading line; null before the first' }),
  linesPerS: num({ digits: 1 }),
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
  lastLine: text({ description: 'The last line as it came, for the set-up' }),
});
export type LinkView = Static<typeof LinkView>;

export const AdviceView = named(
  'Advice',
  {
    kind: oneOf(ADVICE_KINDS),
    sentence: text(),
    hint: text({ description: 'What to check first' }),
    fromMm: numOrNull({ digits: 1 }),
    toMm: numOrNull({ digits: 1 }),
    open: yes('It goes on'),
  },
  'Something to know that is no alarm. Positions on the spool; null = of no stretch.',
);
export type AdviceView = Static<typeof AdviceView>;

export const StageView = named('Stage', {
  stage: oneOf(STAGES),
  byPerson: yes(),
  sinceMs: num(),
  missing: list(text(), 'What is still missing before winding; empty = ready'),
});
export type StageView = Static<typeof StageView>;

export const LiveState = named('LiveState', {
  serverTimeMs: num({ digits: 0 }),
  boot: text({ description: 'Differs after a restart of the service' }),
  spoolBoundsRevision: int({
    description:
      'Rises when a user states, chooses, cuts or measures something of a spool: what is shown of spools is old then',
  }),
  sentence: text({ description: 'The one sentence that sums up the state' }),
  loudness: oneOf(['calm', 'notice', 'abnormal', 'danger']),
  lineName: text(),
  link: LinkView,
  stage: StageView,
  run: orNull(Type.Object({ id: int(), startedMs: num(), timeZone: text(), lot: orNull(LotView) })),
  spool: orNull(LiveSpool),
  now: Type.Object({
    timeMs: numOrNull({ digits: 1 }),
    gaugeMm: num({ digits: 1 }),
    spoolMm: numOrNull({ digits: 1 }),
    diameterMm: numOrNull({ digits: 4 }),
    outOfRoundMm: numOrNull({ digits: 4 }),
    speedMmPerS: numOrNull({ digits: 2 }),
    shortestSeenMm: numOrNull({
      digits: 2,
      description: 'Sample pitch = speed / rate: a blob shorter than this may go unseen',
    }),
    free: list(Type.Object({ name: text(), unit: text(), value: numOrNull({ digits: 4 }) })),
  }),
  zones: list(ZoneView),
  heat: Type.Object({
    beforeScrew: list(text(), 'What is missing before the screw may turn; empty = it may'),
    learntZones: list(int(), 'Zones whose model was learnt from their heat-ups'),
    withoutPower: list(
      int(),
      'Zones whose power the line does not send: faults are found later, and a weak heater not at all',
    ),
  }),
  sections: list(SectionView, 'Those still between the gauge and the winder, and the last ten, newest first'),
  notWatched: list(
    oneOf(['strand', 'heat']),
    'What cannot be watched although lines come, because a signal it needs is missing or not understood',
  ),
  troubles: list(text(), 'What is wrong with notifications, a sentence each'),
  alarms: list(AlarmView, 'Current alarms and those not acknowledged yet, most urgent first'),
  suppressed: list(AlarmView, 'Silenced, suppressed by design or out of service'),
  advice: list(AdviceView, 'Worth knowing now: drift, surging, a gauge that cannot see enough'),
  limits: Type.Object({
    nominalMm: num(),
    toleranceMm: num(),
    hotendLimitMm: num(),
    leastFeedableMm: num(),
    strandPresentMm: num(),
    gaugeToWinderMm: num(),
    absoluteLimitC: num(),
  }),
});
export type LiveState = Static<typeof LiveState>;
