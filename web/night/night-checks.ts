import { awaitsAcknowledgement } from '../../server/alarm/life-cycle.ts';
import type { LiveState } from '../../server/api/contract/live-state.ts';
import type { PeopleView } from '../../server/api/contract/people.ts';
import type { RecordHealth } from '../../server/api/contract/record.ts';
import type { LineSettings } from '../../server/settings/line-settings.ts';
import { pace, reelCapacity } from '../../server/strand/reel/reel-capacity.ts';
import { reelShapeOf } from '../../server/strand/reel/reel-shape.ts';
import { counted, diameter, grams, metres } from '../format/numbers.ts';
import { ago, span } from '../format/times.ts';

export interface NightFacts {
  readonly live: LiveState;
  readonly people: PeopleView;
  readonly record: RecordHealth;
  readonly settings: LineSettings;
  /** By this device's clock. */
  readonly nowMs: number;
}

/** One thing to check before leaving the line alone for a night. */
export interface NightCheck {
  readonly id: 'phone' | 'alarms' | 'strand' | 'heat' | 'spool' | 'hopper' | 'disk' | 'backup' | 'clock';
  readonly title: string;
  /** `ask`: only a person can tell. */
  readonly state: 'fine' | 'missing' | 'ask';
  readonly text: string;
  /** The page where it is mended; null = none. */
  readonly page: string | null;
}

// Common practice, no source.
const NIGHT_S = 8 * 3600;
const TESTED_WITHIN_MS = 24 * 3_600_000;
const BACKED_UP_WITHIN_MS = 7 * 24 * 3_600_000;
const FREE_BYTES_MIN = 2e9;
const CLOCK_OFF_MAX_MS = 60_000;

/** Everything that Strandward can check before a night, and what only a person can. */
export function nightChecks(facts: NightFacts): readonly NightCheck[] {
  const { live, record, nowMs } = facts;
  const check = (
    id: NightCheck['id'],
    title: string,
    page: string | null,
    [state, text]: readonly [NightCheck['state'], string],
  ): NightCheck => ({ id, title, state, text, page });
  return [
    check('phone', 'Messages', '/people', phone(facts)),
    check('alarms', 'Alarms', '/', alarms(live)),
    check('strand', 'Strand', '/set-up', strand(live)),
    check('heat', 'Heat', '/set-up', heat(live)),
    check('spool', 'Room on the spool', null, spool(facts)),
    check('hopper', 'Hopper', null, hopper(facts)),
    check('disk', 'Disk', '/set-up', disk(record)),
    check('backup', 'Backup', '/set-up', backup(record, nowMs)),
    check('clock', 'Clock', null, clockIsRight(live, nowMs)),
  ];
}

type Answer = readonly [NightCheck['state'], string];

function phone({ live, people, nowMs }: NightFacts): Answer {
  if (!people.contacts.some(({ channelIds }) => channelIds.length > 0))
    return ['missing', 'No one is notified: alarms sound only on open pages.'];
  const [worst, ...others] = live.notificationProblems;
  if (worst !== undefined)
    return ['missing', `${worst}${others.length === 0 ? '' : ` And ${counted(others.length, 'more problem')}.`}`];
  const [last] = people.drills;
  const confirmed = last?.people.find(({ confirmedMs }) => confirmedMs !== null);
  if (last === undefined || nowMs - last.startedMs > TESTED_WITHIN_MS)
    return ['missing', 'No alarm test in the last 24 hours.'];
  if (confirmed === undefined)
    return [
      'missing',
      last.outcome === 'waiting' ? 'Waiting for someone to confirm.' : 'No one confirmed the last alarm test.',
    ];
  return ['fine', `${confirmed.name} confirmed an alarm test ${ago(confirmed.confirmedMs ?? last.startedMs, nowMs)}.`];
}

function alarms({ alarms: all, suppressed }: LiveState): Answer {
  const open = all.filter(({ state }) => awaitsAcknowledgement(state)).length;
  if (open > 0) return ['missing', `${counted(open, 'alarm')} to acknowledge.`];
  if (all.length > 0) return ['missing', `${counted(all.length, 'alarm is', 'alarms are')} still active.`];
  const silenced = suppressed.filter(({ state }) => state === 'shelved' || state === 'outOfService').length;
  if (silenced > 0)
    return [
      'missing',
      `${counted(silenced, 'alarm is', 'alarms are')} silenced or out of service, and would not wake anyone.`,
    ];
  return ['fine', 'None is active or silenced.'];
}

function strand({ link, notWatched, now }: LiveState): Answer {
  if (link.phase !== 'open' || link.silentForS === null) return ['missing', 'No data arrives.'];
  if (notWatched.includes('strand') || now.diameterMm === null) return ['missing', 'No diameter arrives.'];
  if (notWatched.includes('places')) return ['missing', 'Places on the spool are unknown: no speed or length arrives.'];
  return ['fine', `It is watched: ${diameter(now.diameterMm)} mm.`];
}

function heat({ zones, notWatched }: LiveState): Answer {
  if (notWatched.includes('heat') || zones.length === 0) return ['missing', 'No temperature arrives.'];
  if (notWatched.includes('heatInPart'))
    return ['missing', 'Some heater faults go unnoticed: see Heat on the live page.'];
  return ['fine', `${counted(zones.length, 'zone is', 'zones are')} watched.`];
}

function spool({ live, settings }: NightFacts): Answer {
  if (live.spool === null) return ['ask', 'No spool is being wound. Is an empty one on the winder?'];
  const { remainingMm, timeToFullS } = paceOf(live, settings, live.spool.woundMm);
  if (!Number.isFinite(timeToFullS)) return ['ask', `Room for ${metres(remainingMm, 0)} m.`];
  const text = `Room for ${metres(remainingMm, 0)} m: full in ${span(timeToFullS * 1000)} at this speed.`;
  if (timeToFullS >= NIGHT_S) return ['fine', text];
  return ['missing', `${text} Change the spool now, or be there to change it then.`];
}

function hopper({ live, settings }: NightFacts): Answer {
  const { gramsPerHour } = paceOf(live, settings, 0);
  if (gramsPerHour === 0) return ['ask', 'Is there enough for the night?'];
  return [
    'ask',
    `The line uses ${grams(gramsPerHour)} an hour: ${grams((gramsPerHour * NIGHT_S) / 3600)} in eight hours.`,
  ];
}

function paceOf({ now }: LiveState, settings: LineSettings, woundMm: number) {
  const { nominalMm, densityGPerCm3 } = settings;
  return pace(reelCapacity(reelShapeOf(settings), nominalMm, densityGPerCm3), woundMm, {
    speedMmPerS: now.speedMmPerS ?? 0,
    diameterMm: nominalMm,
    densityGPerCm3,
  });
}

function disk({ freeBytes }: RecordHealth): Answer {
  const text = `${(freeBytes / 1e9).toFixed(1)} GB is free.`;
  return freeBytes >= FREE_BYTES_MIN ? ['fine', text] : ['missing', text];
}

function backup({ backups, backupProblem }: RecordHealth, nowMs: number): Answer {
  if (backupProblem !== null) return ['missing', backupProblem];
  const [last] = backups;
  if (last === undefined) return ['missing', 'There is no backup yet.'];
  const text = `The last one was made ${ago(last.timeMs, nowMs)}.`;
  return nowMs - last.timeMs <= BACKED_UP_WITHIN_MS ? ['fine', text] : ['missing', text];
}

function clockIsRight({ serverTimeMs, link }: LiveState, nowMs: number): Answer {
  if (link.timing === 'recorded') return ['ask', 'A simulation keeps its own time.'];
  const offMs = Math.abs(serverTimeMs - nowMs);
  if (offMs <= CLOCK_OFF_MAX_MS) return ['fine', 'It agrees with this device.'];
  return ['missing', `The service’s clock differs from this device by ${span(offMs)}.`];
}
