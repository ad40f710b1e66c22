import { type AlarmChange, type AlarmType, PRIORITIES, type Priority } from './alarm.ts';
import { callsForSomebody } from './life-cycle.ts';

/*
 * How much a run asked of whoever watches it, computed from the journal of its alarms. The measures are those of EEMUA 191 and
 * ISA-18.2 / IEC 62682, as quoted by trade articles (the standards themselves were not at hand).
 */

const WINDOW_MS = 600_000;
/** A flood is more than so many calls in 10 min … (EEMUA 191 / ISA-18.2) */
const FLOOD_ABOVE = 10;
/** … and lasts until fewer than so many come in 10 min (ISA-18.2, from memory). */
const FLOOD_ENDS_BELOW = 5;
/** Active to clear at least so often in one minute is chattering (EEMUA 191 / ISA-18.2). */
const CHATTERS_FROM = 3;
const CHATTER_WINDOW_MS = 60_000;
/** Active for longer than a day is stale (EEMUA 191 / ISA-18.2). */
const STALE_AFTER_MS = 24 * 3_600_000;
/** Fleeting: gone after "a few seconds" without anybody's doing, and not back at once. The number is ours. */
const FLEETING_BELOW_S = 5;
const BACK_AT_ONCE_MS = 60_000;

/** One alarm type of one subject, counted. */
export interface CountedAlarm {
  readonly type: AlarmType;
  readonly subject: string;
  readonly count: number;
}

/** Times UTC ms. */
export interface AlarmFigures {
  /** Times that somebody was called: raised, happened again, came back from a rest. */
  readonly calls: number;
  /** Mean calls in 10 min; null where the run was shorter than that. */
  readonly perTenMin: number | null;
  /** Most calls in any 10 min. */
  readonly peakPerTenMin: number;
  readonly floods: readonly { readonly fromMs: number; readonly toMs: number; readonly calls: number }[];
  /** Share of the run spent in floods, 0…1. */
  readonly floodShare: number;
  readonly byPriority: Readonly<Record<Priority, number>>;
  /** Those that call most often, most frequent first. */
  readonly frequent: readonly CountedAlarm[];
  /** `count`: the most clears in one minute. */
  readonly chattering: readonly CountedAlarm[];
  readonly fleeting: readonly CountedAlarm[];
  /** Active for more than a day, or still. */
  readonly stale: readonly { readonly type: AlarmType; readonly subject: string; readonly forMs: number }[];
  /** Median from a call to its acknowledgement, ms; null = none was acknowledged. */
  readonly medianAnswerMs: number | null;
  /** Calls that nobody has acknowledged by the end of the journal. */
  readonly unanswered: number;
}

/** @param journal every step in order of time; @param toMs where the run ended, or now */
export function alarmFigures(journal: readonly AlarmChange[], fromMs: number, toMs: number): AlarmFigures {
  const calls = journal.filter((entry) => callsForSomebody(entry) && entry.timeMs >= fromMs && entry.timeMs <= toMs);
  const times = calls.map(({ timeMs }) => timeMs).sort((a, b) => a - b);
  const lastsMs = Math.max(0, toMs - fromMs);
  const floods = floodsOf(times, toMs);
  const inFloodMs = floods.reduce((sum, flood) => sum + flood.toMs - flood.fromMs, 0);
  const answers = answersOf(journal);
  return {
    calls: calls.length,
    perTenMin: lastsMs < WINDOW_MS ? null : (calls.length * WINDOW_MS) / lastsMs,
    peakPerTenMin: mostWithin(times, WINDOW_MS),
    floods,
    floodShare: lastsMs === 0 ? 0 : Math.min(1, inFloodMs / lastsMs),
    byPriority: Object.fromEntries(
      PRIORITIES.map((priority) => [priority, calls.filter(({ alarm }) => alarm.priority === priority).length]),
    ) as Record<Priority, number>,
    frequent: counted(calls, (entries) => entries.length),
    chattering: counted(
      journal.filter(({ what }) => what === 'returned'),
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

/** The most of these (sorted) times that lie within one window. */
function mostWithin(times: readonly number[], windowMs: number): number {
  let most = 0;
  let from = 0;
  times.forEach((time, to) => {
    while (time - times[from]! >= windowMs) from += 1;
    most = Math.max(most, to - from + 1);
  });
  return most;
}

function floodsOf(times: readonly number[], toMs: number): AlarmFigures['floods'] {
  const floods: { fromMs: number; toMs: number; calls: number }[] = [];
  /** Of the 10 min up to now. */
  let recent: number[] = [];
  let flood: { fromMs: number; calls: number } | null = null;
  // A call leaves the window 10 min later: only then can a flood end.
  const agedUntil = (nowMs: number) => {
    while (recent[0] !== undefined && recent[0] + WINDOW_MS <= nowMs) {
      const endMs = recent[0] + WINDOW_MS;
      recent = recent.slice(1);
      if (flood === null || recent.length >= FLOOD_ENDS_BELOW) continue;
      floods.push({ ...flood, toMs: endMs });
      flood = null;
    }
  };
  for (const time of times) {
    agedUntil(time);
    recent.push(time);
    if (flood !== null) flood.calls += 1;
    else if (recent.length > FLOOD_ABOVE) flood = { fromMs: recent[0]!, calls: recent.length };
  }
  agedUntil(toMs);
  if (flood !== null) floods.push({ ...(flood as { fromMs: number; calls: number }), toMs });
  return floods;
}

/** Of each type and subject the entries' count as `of` says; none where it says 0. Most first. */
function counted(entries: readonly AlarmChange[], of: (entries: readonly AlarmChange[]) => number): CountedAlarm[] {
  const groups = new Map<string, AlarmChange[]>();
  for (const entry of entries) {
    const key = `${entry.alarm.type} ${entry.alarm.subject}`;
    const group = groups.get(key);
    if (group === undefined) groups.set(key, [entry]);
    else group.push(entry);
  }
  return [...groups.values()]
    .map((group) => ({ type: group[0]!.alarm.type, subject: group[0]!.alarm.subject, count: of(group) }))
    .filter(({ count }) => count > 0)
    .sort((a, b) => b.count - a.count || (a.type < b.type ? -1 : 1));
}

/** Of one type and subject, in order of time. */
function fleetingOf(entries: readonly AlarmChange[]): number {
  return entries.filter(({ what, timeMs, alarm }, i) => {
    if (what !== 'returned' || alarm.ceasedMs === null) return false;
    if (alarm.ceasedMs - alarm.lastOccurredMs >= FLEETING_BELOW_S * 1000) return false;
    const answered = alarm.acknowledgedMs !== null && alarm.acknowledgedMs <= alarm.ceasedMs;
    const next = entries.slice(i + 1).find(callsForSomebody);
    const back = next !== undefined && next.timeMs - timeMs < BACK_AT_ONCE_MS;
    return !answered && !back;
  }).length;
}

function staleOf(journal: readonly AlarmChange[], toMs: number): AlarmFigures['stale'] {
  const since = new Map<number, AlarmChange>();
  const stale: { type: AlarmType; subject: string; forMs: number }[] = [];
  const over = (begun: AlarmChange, endMs: number) => {
    const forMs = endMs - begun.timeMs;
    const { type, subject } = begun.alarm;
    if (forMs > STALE_AFTER_MS) stale.push({ type, subject, forMs });
  };
  for (const entry of journal) {
    const { id, state } = entry.alarm;
    const active = state === 'unacknowledged' || state === 'acknowledged';
    const begun = since.get(id);
    if (active && begun === undefined) since.set(id, entry);
    if (active || begun === undefined) continue;
    since.delete(id);
    over(begun, entry.timeMs);
  }
  for (const begun of since.values()) over(begun, toMs);
  return stale.sort((a, b) => b.forMs - a.forMs);
}

function answersOf(journal: readonly AlarmChange[]): { readonly takenMs: number[]; readonly open: number } {
  const calledMs = new Map<number, number>();
  const takenMs: number[] = [];
  for (const entry of journal) {
    const { id } = entry.alarm;
    if (callsForSomebody(entry)) calledMs.set(id, calledMs.get(id) ?? entry.timeMs);
    const called = calledMs.get(id);
    // Whoever shelves it, or takes it out of service, has seen it too.
    if (called === undefined || entry.by === null || callsForSomebody(entry)) continue;
    takenMs.push(entry.timeMs - called);
    calledMs.delete(id);
  }
  return { takenMs, open: calledMs.size };
}

function median(values: readonly number[]): number | null {
  if (values.length === 0) return null;
  const sorted = values.toSorted((a, b) => a - b);
  const middle = sorted.length >> 1;
  return sorted.length % 2 === 1 ? sorted[middle]! : (sorted[middle - 1]! + sorted[middle]!) / 2;
}
