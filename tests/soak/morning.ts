import { openStore, type Store } from '../../server/store/index.ts';
import type { TruthEvent } from '../../simulator/model/truth.ts';
import type { Night } from './night.ts';
import type { SentLine } from './night-board.ts';

/** What the record shows in the morning. */
export interface Morning {
  readonly readings: number;
  /** Lines that arrived while a service listened, and how many of them are not in the record. */
  readonly arrived: number;
  readonly missing: number;
  /** The most that a kill cost, s. */
  readonly lostPerKillS: number;
  readonly events: number;
  readonly notFound: readonly TruthEvent[];
  readonly factsLost: readonly string[];
  /** Memory of the service, MB. */
  readonly rssMaxMb: number;
  readonly rssGrowthMb: number;
  readonly errors: readonly string[];
}

/** True diameter from which a defect must be found: half a tenth beyond the tolerance of 1.75 ± 0.05 mm. */
const FOUND_BEYOND_MM = 0.08;
const ON_THE_STRAND = new Set(['blob', 'neck', 'thin-stretch', 'off-tolerance', 'oversize', 'undersize']);
/** How far a place in the record may be from the true one: the wheel slips and wears. */
const PLACE_WITHIN_MM = 60;
const BOARD_HZ = 50;
/** While a cable is plugged in, the service learns the format again from the first lines. */
const AROUND_A_FAULT_MM = 120;

interface Stored {
  readonly runId: number;
  readonly len: Float64Array;
  readonly gaugeMm: Float64Array;
}

export async function lookAt(night: Night): Promise<Morning> {
  const store = openStore({ folder: night.dataFolder, readOnly: true });
  try {
    const runs = await Promise.all(
      store.reader.runs().map(async ({ id }): Promise<Stored> => {
        const { gaugeMm, values } = await store.columns.readings(id, 0, 1e12, ['len']);
        return { runId: id, len: values.len ?? new Float64Array(), gaugeMm };
      }),
    );
    const lengths = new Set(runs.flatMap(({ len }) => [...len]));
    const first = Math.min(...lengths);
    const sent = night.board.sent.filter(({ len }) => len >= first);
    const missing = sent.filter(({ arrived, len }) => arrived && !lengths.has(len));
    const events = night.board.truth().filter((event) => mustBeFound(event, sent, lengths));
    return {
      readings: runs.reduce((sum, { len }) => sum + len.length, 0),
      arrived: sent.filter(({ arrived }) => arrived).length,
      missing: missing.length,
      lostPerKillS: Math.max(0, ...night.killedMs.map((ms) => lostBefore(ms, sent, lengths))),
      events: events.length,
      notFound: events.filter((event) => !isFound(event, sent, runs, store)),
      factsLost: factsLost(night.facts, store),
      rssMaxMb: Math.max(0, ...night.rssMb),
      rssGrowthMb: growthOf(night.rssMb),
      errors: night.output
        .split('\n')
        .filter((line) => /unhandled|uncaught|"level":(?:50|60)|\bat .*\.js:\d+/i.test(line)),
    };
  } finally {
    await store.close();
  }
}

/** Lines that had arrived before a kill and are not in the record: the stretch before it without a gap, s. */
function lostBefore(killedMs: number, sent: readonly SentLine[], stored: ReadonlySet<number>): number {
  const before = sent.filter(({ atMs, arrived }) => arrived && atMs < killedMs);
  const last = before.findLastIndex(({ len }) => stored.has(len));
  return (before.length - 1 - last) / BOARD_HZ;
}

/** It was wound, it is clearly beyond the tolerance, and every line about it is in the record. */
function mustBeFound(event: TruthEvent, sent: readonly SentLine[], stored: ReadonlySet<number>): boolean {
  const { kind, peakMm, fromGaugeMm, toGaugeMm, spool } = event;
  if (!ON_THE_STRAND.has(kind) || peakMm === null || toGaugeMm === null || spool === null) return false;
  if (Math.abs(peakMm - 1.75) < FOUND_BEYOND_MM) return false;
  const about = sent.filter(
    ({ gaugeMm }) => gaugeMm > fromGaugeMm - AROUND_A_FAULT_MM && gaugeMm < toGaugeMm + AROUND_A_FAULT_MM,
  );
  return about.length > 0 && about.every(({ len, arrived }) => arrived && stored.has(len));
}

function isFound(event: TruthEvent, sent: readonly SentLine[], runs: readonly Stored[], store: Store): boolean {
  const at = sent.find(({ gaugeMm }) => gaugeMm >= event.fromGaugeMm);
  const until = sent.find(({ gaugeMm }) => gaugeMm >= (event.toGaugeMm ?? 0));
  return runs.some(({ runId, len, gaugeMm }) => {
    const from = gaugeMm[len.indexOf(at?.len ?? -1)];
    const to = gaugeMm[len.indexOf(until?.len ?? -1)];
    if (from === undefined || to === undefined) return false;
    return store.reader
      .measuredSections(runId)
      .some(
        (section) =>
          section.kind !== 'unknown' && section.toMm > from - PLACE_WITHIN_MM && section.fromMm < to + PLACE_WITHIN_MM,
      );
  });
}

function factsLost(facts: readonly string[], store: Store): readonly string[] {
  const kept = new Set(store.spoolStatements.printers().map(({ name }) => name));
  return facts.filter((name) => !kept.has(name));
}

/** From the second quarter of the night to its last. */
function growthOf(rssMb: readonly number[]): number {
  const quarter = Math.floor(rssMb.length / 4);
  const median = (values: readonly number[]) => values.toSorted((a, b) => a - b)[values.length >> 1] ?? 0;
  return median(rssMb.slice(-quarter)) - median(rssMb.slice(quarter, 2 * quarter));
}
