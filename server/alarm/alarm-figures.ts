import { type AlarmChange, type AlarmType, PRIORITIES, type Priority } from './alarm.ts';
import { alertsPeople, isActive } from './life-cycle.ts';

/*
 * Alarm load of a run, computed from its alarm journal. The measures are those of EEMUA 191 and ISA-18.2 / IEC 62682, as quoted
 * by trade articles (the standards themselves were not at hand).
 */

const WINDOW_MS = 600_000;
/** A flood starts with more alarms than this in 10 min … (EEMUA 191 / ISA-18.2) */
const FLOOD_ABOVE = 10;
/** … and ends with fewer than this in 10 min (ISA-18.2, from memory). */
const FLOOD_ENDS_BELOW = 5;
/** Clearing at least this often in one minute is chattering (EEMUA 191 / ISA-18.2). */
const CHATTERS_FROM = 3;
const CHATTER_WINDOW_MS = 60_000;
/** Active for more than a day is stale (EEMUA 191 / ISA-18.2). */
const STALE_AFTER_MS = 24 * 3_600_000;
/** Fleeting: gone after "a few seconds" without any action, and not back within a minute. Both numbers are our own. */
const FLEETING_BELOW_S = 5;
const BACK_AT_ONCE_MS = 60_000;

/** Count for one alarm type and subject. */
export interface CountedAlarm {
  readonly type: AlarmType;
  readonly subject: string;
  readonly count: number;
}

/** Times UTC ms. */
export interface AlarmFigures {
  /** Number of times that people were notified: raised, happened again, restored. */
  readonly alarms: number;
  /** Mean alarms in 10 min; null where the run was shorter than that. */
  readonly perTenMin: number | null;
  /** Most alarms in any 10 min. */
  readonly peakPerTenMin: number;
  readonly floods: readonly { readonly fromMs: number; readonly toMs: number; readonly alarms: number }[];
  /** Share of the run spent in floods, 0…1. */
  readonly floodShare: number;
  readonly byPriority: Readonly<Record<Priority, number>>;
  /** Number of alarms, most frequent first. */
  readonly frequent: readonly CountedAlarm[];
  /** `count`: the most clears in one minute. */
  readonly chattering: readonly CountedAlarm[];
  readonly fleeting: readonly CountedAlarm[];
  /** Active for more than a day, including alarms that still are. */
  readonly stale: readonly { readonly type: AlarmType; readonly subject: string; readonly forMs: number }[];
  /** Median time from a call to its acknowledgement, ms; null = none was acknowledged. */
  readonly medianAnswerMs: number | null;
  /** Alarms not acknowledged by the end of the journal. */
  readonly unanswered: number;
}

/** @param journal every step in order of time; @param toMs end of the run, or now */
export function alarmFigures(journal: readonly AlarmChange[], fromMs: number, toMs: number): AlarmFigures {
  const alarms = journal.filter((entry) => alertsPeople(entry) && entry.timeMs >= fromMs && entry.timeMs <= toMs);
  const times = alarms.map(({ timeMs }) => timeMs).sort((a, b) => a - b);
  const lastsMs = Math.max(0, toMs - fromMs);
  const floods = floodsOf(times, toMs);
  const inFloodMs = floods.reduce((sum, flood) => sum + flood.toMs - flood.fromMs, 0);
  const answers = answersOf(journal);
  return {
    alarms: alarms.length,
    perTenMin: lastsMs < WINDOW_MS ? null : (alarms.length * WINDOW_MS) / lastsMs,
    peakPerTenMin: mostWithin(times, WINDOW_MS),
    floods,
    floodShare: lastsMs === 0 ? 0 : Math.min(1, inFloodMs / lastsMs),
    byPriority: Object.fromEntries(
      PRIORITIES.map((priority) => [priority, alarms.filter(({ alarm }) => alarm.priority === priority).length]),
    ) as Record<Priority, number>,
    frequent: counted(alarms, (entries) => entries.length),
    chattering: counted(
      journal.filter(({ step }) => step === 'returned'),
      (returns) => {
        const most = mostWithin(
          returns.map(({ timeMs }) => timeMs),
          CHATTER_WINDOW_MS,
        );
        return most >= CHATTERS_FROM ? most : 0;
      },
    ),
    fleeting: counted(journal, fleetingOf),
    stale: staleOf(journal, toMs),
    medianAnswerMs: median(answers.takenMs),
    unanswered: answers.open,
  };
}

/** The most of these sorted times within one window. */
function mostWithin(times: readonly number[], windowMs: number): number {
  let most = 0;
  let from = 0;
  for (const [to, time] of times.entries()) {
    while (time - (times[from] ?? time) >= windowMs) from += 1;
    most = Math.max(most, to - from + 1);
  }
  return most;
}

function floodsOf(times: readonly number[], toMs: number): AlarmFigures['floods'] {
  const floods: { fromMs: number; toMs: number; alarms: number }[] = [];
  /** Alarms of the last 10 min. */
  let recent: number[] = [];
  let flood: { fromMs: number; alarms: number } | null = null;
  // A flood can only end when a call leaves the window, 10 min after it.
  const expireUntil = (nowMs: number) => {
    while (recent[0] !== undefined && recent[0] + WINDOW_MS <= nowMs) {
      const endMs = recent[0] + WINDOW_MS;
      recent = recent.slice(1);
      if (flood === null || recent.length >= FLOOD_ENDS_BELOW) continue;
      floods.push({ ...flood, toMs: endMs });
      flood = null;
    }
  };
  for (const time of times) {
    expireUntil(time);
    recent.push(time);
    if (flood !== null) flood.alarms += 1;
    else if (recent.length > FLOOD_ABOVE) flood = { fromMs: recent[0] ?? time, alarms: recent.length };
  }
  expireUntil(toMs);
  if (flood !== null) floods.push({ ...(flood as { fromMs: number; alarms: number }), toMs });
  return floods;
}

/** Counts the entries of each type and subject by `count`, greatest first; zeros are left out. */
function counted(entries: readonly AlarmChange[], count: (entries: readonly AlarmChange[]) => number): CountedAlarm[] {
  const groups = new Map<string, { type: AlarmType; subject: string; entries: AlarmChange[] }>();
  for (const entry of entries) {
    const { type, subject } = entry.alarm;
    const key = `${type} ${subject}`;
    const group = groups.get(key) ?? { type, subject, entries: [] };
    group.entries.push(entry);
    groups.set(key, group);
  }
  return [...groups.values()]
    .map((group) => ({ type: group.type, subject: group.subject, count: count(group.entries) }))
    .filter(({ count }) => count > 0)
    .sort((a, b) => b.count - a.count || (a.type < b.type ? -1 : 1));
}

/** Number of fleeting alarms among the steps of one type and subject, in order of time. */
function fleetingOf(entries: readonly AlarmChange[]): number {
  return entries.filter(({ step, timeMs, alarm }, i) => {
    if (step !== 'returned' || alarm.ceasedMs === null) return false;
    if (alarm.ceasedMs - alarm.lastOccurredMs >= FLEETING_BELOW_S * 1000) return false;
    const answered = alarm.acknowledgedMs !== null && alarm.acknowledgedMs <= alarm.ceasedMs;
    const next = entries.slice(i + 1).find(alertsPeople);
    const back = next !== undefined && next.timeMs - timeMs < BACK_AT_ONCE_MS;
    return !answered && !back;
  }).length;
}

function staleOf(journal: readonly AlarmChange[], toMs: number): AlarmFigures['stale'] {
  const since = new Map<number, AlarmChange>();
  const stale: { type: AlarmType; subject: string; forMs: number }[] = [];
  const ended = (started: AlarmChange, endMs: number) => {
    const forMs = endMs - started.timeMs;
    const { type, subject } = started.alarm;
    if (forMs > STALE_AFTER_MS) stale.push({ type, subject, forMs });
  };
  for (const entry of journal) {
    const { id, state } = entry.alarm;
    const active = isActive(state);
    const started = since.get(id);
    if (active && started === undefined) since.set(id, entry);
    if (active || started === undefined) continue;
    since.delete(id);
    ended(started, entry.timeMs);
  }
  for (const started of since.values()) ended(started, toMs);
  return stale.sort((a, b) => b.forMs - a.forMs);
}

function answersOf(journal: readonly AlarmChange[]): { readonly takenMs: number[]; readonly open: number } {
  const calledMs = new Map<number, number>();
  const takenMs: number[] = [];
  for (const entry of journal) {
    const { id } = entry.alarm;
    if (alertsPeople(entry)) calledMs.set(id, calledMs.get(id) ?? entry.timeMs);
    const called = calledMs.get(id);
    // A user who shelves it, or takes it out of service, has seen it too.
    if (called === undefined || entry.by === null || alertsPeople(entry)) continue;
    takenMs.push(entry.timeMs - called);
    calledMs.delete(id);
  }
  return { takenMs, open: calledMs.size };
}

function median(values: readonly number[]): number | null {
  if (values.length === 0) return null;
  const sorted = values.toSorted((a, b) => a - b);
  const middle = sorted.slice((sorted.length - 1) >> 1, (sorted.length >> 1) + 1);
  return middle.reduce((sum, value) => sum + value, 0) / middle.length;
}
