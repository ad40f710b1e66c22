import { isReport } from '../../server/escalation/message.ts';
import { type OutboxEntry, sequenceOf } from '../../server/escalation/outbox-entry.ts';
import { defaultLineSettings } from '../../server/settings/check-line-settings.ts';
import { openStore, type Store } from '../../server/store/index.ts';
import type { MeasuredSection } from '../../server/strand/section.ts';
import type { TruthEvent } from '../../simulator/model/truth.ts';
import type { Night, ProvokedFault } from './night.ts';
import type { SentLine } from './night-board.ts';

/** What the record shows in the morning. */
export interface Morning {
  readonly readings: number;
  /** Lines that arrived while a service listened, and how many of them are not in the record. */
  readonly arrived: number;
  readonly missing: number;
  /** The same by the fault that was going on. */
  readonly missingBy: ReadonlyMap<string, number>;
  /** The longest stretches of them, but for those that a kill cost. */
  readonly gaps: readonly Gap[];
  /** The most that a kill cost, s on the clock of the machine, apart from the time for which that stood. */
  readonly lostPerKillS: number;
  readonly events: number;
  readonly notFound: readonly TruthEvent[];
  readonly factsLost: readonly string[];
  /** Messages to webhook and broker that were not delivered by the end. */
  readonly waiting: readonly OutboxEntry[];
  /** Reports that were given up. */
  readonly reportsLost: number;
  /** Messages accepted by each kind of channel, and how many of them after a later one of their alarm. */
  readonly accepted: Readonly<Record<keyof Night['accepted'], Accepted>>;
  /** Memory of the service, MB: of all starts the most, also without files that others can share, and by how much it grew after the last kill. */
  readonly rssMedianMb: number;
  readonly rssMaxMb: number;
  readonly ownMaxMb: number;
  /** When that was, s from the start of the night on the clock of the machine, and the fault that was going on. */
  readonly rssMaxAtS: number;
  readonly rssMaxIn: string;
  readonly rssGrowthMb: number;
  readonly errors: readonly string[];
}

const { hotendLimitMm, smallestFeedableMm, nominalMm, toleranceMm } = defaultLineSettings();
/** A defect must be found if its true diameter is this far beyond the limit: four times the noise of the simulated gauge. */
const FOUND_BEYOND_MM = 0.03;
/** By how much the true diameter is beyond the limit of such a defect; a short one within the limits of the printer is none. */
const BEYOND_MM: Readonly<Record<string, (peakMm: number) => number>> = {
  blob: (peakMm) => peakMm - hotendLimitMm,
  neck: (peakMm) => smallestFeedableMm - peakMm,
  ...Object.fromEntries(
    ['thin-stretch', 'off-tolerance', 'oversize', 'undersize'].map((kind) => [
      kind,
      (peakMm: number) => Math.abs(peakMm - nominalMm) - toleranceMm,
    ]),
  ),
};
/** How far a place in the record may be from the true one: the wheel slips and wears. */
const PLACE_WITHIN_MM = 60;
const BOARD_HZ = 50;
/** Lines are sent at least this often on an idle machine. */
const LATE_MS = 30;
/** While a cable is plugged in, the service learns the format again from the first lines. */
const AROUND_A_FAULT_MM = 120;

/** Faults are at least three seconds apart, so these do not overlap. */
const BEFORE_A_KILL_MS = 1000;
const AFTER_A_FAULT_MS = 2000;

/** Lines one after the other that are not in the record. */
interface Gap {
  readonly lines: number;
  readonly fault: string;
  /** From the start of the night to the first of them, s on the clock of the machine, and how long after the fault had begun. */
  readonly atS: number;
  readonly intoFaultS: number | null;
}

const GAPS_SHOWN = 8;

interface Accepted {
  readonly count: number;
  readonly overtaken: number;
}

interface Stored {
  readonly len: Float64Array;
  readonly gaugeMm: Float64Array;
  readonly sections: readonly MeasuredSection[];
}

export async function lookAt(night: Night, pace: number): Promise<Morning> {
  const store = openStore({ folder: night.dataFolder, readOnly: true });
  try {
    const runs = await Promise.all(
      store.reader.runs().map(async ({ id }): Promise<Stored> => {
        const { gaugeMm, values } = await store.columns.readings(id, 0, 1e12, ['len']);
        const sections = store.reader.measuredSections(id).filter(({ kind }) => kind !== 'unknown');
        return { len: values.len ?? new Float64Array(), gaugeMm, sections };
      }),
    );
    const channels = store.people.channels().filter(({ settings }) => settings.kind !== 'email');
    const working = new Set(channels.map(({ id }) => id));
    const lengths = new Set(runs.flatMap(({ len }) => [...len]));
    // A night has more than a million.
    const first = [...lengths].reduce((least, len) => Math.min(least, len), Number.POSITIVE_INFINITY);
    const sent = night.board.sent.filter(({ len }) => len >= first);
    const missing = sent.filter(({ arrived, len }) => arrived && !lengths.has(len));
    const events = night.board.truth().filter((event) => mustBeFound(event, sent, lengths));
    return {
      readings: runs.reduce((sum, { len }) => sum + len.length, 0),
      arrived: sent.filter(({ arrived }) => arrived).length,
      missing: missing.length,
      missingBy: byFault(missing, night.provoked),
      gaps: gapsIn(sent, lengths, night.provoked),
      lostPerKillS: Math.max(0, ...lostByKills(night.killedMs, sent, lengths)) / pace,
      events: events.length,
      notFound: events.filter((event) => !isFound(event, sent, runs)),
      factsLost: factsLost(night.facts, store),
      waiting: store.people.waiting().filter(({ channelId }) => working.has(channelId)),
      accepted: { webhook: acceptedBy('webhook', night, store), mqtt: acceptedBy('mqtt', night, store) },
      reportsLost: store.people.ended({ dead: true, limit: 1e6 }).filter(({ message }) => isReport(message)).length,
      rssMedianMb: median(night.rssMb),
      rssMaxMb: Math.max(0, ...night.rssMb),
      rssMaxAtS: (night.rssMostMs - (sent[0]?.atMs ?? 0)) / 1000,
      rssMaxIn: faultAt(night.rssMostMs, night.provoked)?.name ?? 'no fault',
      ownMaxMb: night.ownMostMb,
      rssGrowthMb: growthOf(night.rssSinceKillMb),
      errors: night.output
        .split('\n')
        .filter((line) => /unhandled|uncaught|"level":(?:50|60)|\bat .*\.js:\d+/i.test(line)),
    };
  } finally {
    await store.close();
  }
}

/** The fault that was going on, or had just been. */
function faultAt(atMs: number, provoked: readonly ProvokedFault[]): ProvokedFault | undefined {
  return provoked.find(({ fromMs, toMs }) => atMs > fromMs - BEFORE_A_KILL_MS && atMs < toMs + AFTER_A_FAULT_MS);
}

function byFault(missing: readonly SentLine[], provoked: readonly ProvokedFault[]): ReadonlyMap<string, number> {
  const counts = new Map<string, number>();
  for (const { atMs } of missing) {
    const name = faultAt(atMs, provoked)?.name ?? 'no fault';
    counts.set(name, (counts.get(name) ?? 0) + 1);
  }
  return counts;
}

function gapsIn(
  sent: readonly SentLine[],
  stored: ReadonlySet<number>,
  provoked: readonly ProvokedFault[],
): readonly Gap[] {
  const gaps: Gap[] = [];
  for (let from = 0; from < sent.length; from++) {
    let to = from;
    while (to < sent.length && sent[to]!.arrived && !stored.has(sent[to]!.len)) to++;
    if (to === from) continue;
    const { atMs } = sent[from]!;
    const fault = faultAt(atMs, provoked);
    const intoFaultS = fault === undefined ? null : (atMs - fault.fromMs) / 1000;
    const atS = (atMs - sent[0]!.atMs) / 1000;
    if (fault?.name !== 'kill') gaps.push({ lines: to - from, fault: fault?.name ?? 'no fault', atS, intoFaultS });
    from = to;
  }
  return gaps.toSorted((a, b) => b.lines - a.lines).slice(0, GAPS_SHOWN);
}

/** What each kill cost, s of the line. */
export function lostByKills(
  killedMs: readonly number[],
  sent: readonly SentLine[],
  stored: ReadonlySet<number>,
): readonly number[] {
  // What an earlier kill has cost is not lost again.
  return killedMs.map((ms, i) => lostBefore(ms, killedMs[i - 1] ?? 0, sent, stored));
}

/**
 * Lines that had arrived before a kill and are not in the record: the stretch before it without a gap. The time for which a
 * busy machine let this process stand in that stretch is no loss, because the service has stood as well.
 */
function lostBefore(atMs: number, beforeMs: number, sent: readonly SentLine[], stored: ReadonlySet<number>): number {
  let lost = 0;
  let stoodMs = 0;
  for (let i = sent.findLastIndex((line) => line.atMs < atMs); i > 0 && sent[i]!.atMs > beforeMs; i--) {
    const { arrived, len } = sent[i]!;
    if (arrived && stored.has(len)) break;
    if (arrived) lost++;
    stoodMs = Math.max(stoodMs, sent[i]!.atMs - sent[i - 1]!.atMs - LATE_MS);
  }
  return Math.max(0, lost / BOARD_HZ - stoodMs / 1000);
}

/** The first line at or after a place; a night has more than a million. */
function firstAt(sent: readonly SentLine[], gaugeMm: number): number {
  let [low, high] = [0, sent.length];
  while (low < high) {
    const middle = (low + high) >> 1;
    if (sent[middle]!.gaugeMm < gaugeMm) low = middle + 1;
    else high = middle;
  }
  return low;
}

/** It was wound, it is clearly beyond its limit, and every line about it is in the record. */
function mustBeFound(event: TruthEvent, sent: readonly SentLine[], stored: ReadonlySet<number>): boolean {
  const { kind, peakMm, fromGaugeMm, toGaugeMm, fromSpoolMm, spool } = event;
  const beyondMm = BEYOND_MM[kind];
  if (beyondMm === undefined || peakMm === null || toGaugeMm === null || spool === null) return false;
  if (beyondMm(peakMm) < FOUND_BEYOND_MM) return false;
  // Where a spool starts is estimated, so this one may lie before it.
  if (fromSpoolMm === 0) return false;
  const about = sent.slice(
    firstAt(sent, fromGaugeMm - AROUND_A_FAULT_MM),
    firstAt(sent, toGaugeMm + AROUND_A_FAULT_MM),
  );
  return about.length > 0 && about.every(({ len, arrived }) => arrived && stored.has(len));
}

function isFound(event: TruthEvent, sent: readonly SentLine[], runs: readonly Stored[]): boolean {
  const at = sent[firstAt(sent, event.fromGaugeMm)];
  const until = sent[firstAt(sent, event.toGaugeMm ?? 0)];
  return runs.some(({ len, gaugeMm, sections }) => {
    const from = gaugeMm[len.indexOf(at?.len ?? -1)];
    const to = gaugeMm[len.indexOf(until?.len ?? -1)];
    if (from === undefined || to === undefined) return false;
    return sections.some(({ toMm, fromMm }) => toMm > from - PLACE_WITHIN_MM && fromMm < to + PLACE_WITHIN_MM);
  });
}

function factsLost(facts: readonly string[], store: Store): readonly string[] {
  const kept = new Set(store.spoolStatements.printers().map(({ name }) => name));
  return facts.filter((name) => !kept.has(name));
}

/** From the second quarter of the time to its last. */
function growthOf(rssMb: readonly number[]): number {
  const quarter = Math.floor(rssMb.length / 4);
  return median(rssMb.slice(-quarter)) - median(rssMb.slice(quarter, 2 * quarter));
}

/** Each message counts once, when it was accepted first. */
function acceptedBy(kind: keyof Night['accepted'], night: Night, store: Store): Accepted {
  const channels = store.people.channels().filter(({ settings }) => settings.kind === kind);
  const ids = new Set(channels.map(({ id }) => id));
  const ended = [true, false].flatMap((dead) => store.people.ended({ dead, limit: 1e6 }));
  const entries = new Map(ended.filter(({ channelId }) => ids.has(channelId)).map((one) => [one.message.key, one]));
  const keys = new Set(night.accepted[kind]);
  const latest = new Map<number, number>();
  let overtaken = 0;
  for (const key of keys) {
    const entry = entries.get(key);
    const sequence = entry === undefined ? null : sequenceOf(entry);
    if (entry === undefined || sequence === null) continue;
    const before = latest.get(sequence) ?? 0;
    if (entry.seq < before) overtaken++;
    latest.set(sequence, Math.max(before, entry.seq));
  }
  return { count: keys.size, overtaken };
}

function median(values: readonly number[]): number {
  return values.toSorted((a, b) => a - b)[values.length >> 1] ?? 0;
}
