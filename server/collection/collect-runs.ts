import { createHash } from 'node:crypto';
import type { RunDetail } from '../api/contract/runs-and-spools.ts';
import { Problem } from '../problem/problem.ts';
import { type RunRow, runsTable, tablesOfRun } from './collected-tables.ts';
import { type CollectedRun, CollectionFolder, type FileContent } from './collection-folder.ts';
import { LineService } from './line-service.ts';

export interface CollectRequest {
  readonly folder: string;
  readonly address: string;
  /** null = the service needs none, because it runs on this machine. */
  readonly token: string | null;
  /** Removes runs that the record no longer has, however many. */
  readonly removesAll: boolean;
}

/** What one call has done, as numbers of runs. */
export interface Collected {
  readonly added: number;
  readonly changed: number;
  readonly removed: number;
  readonly total: number;
}

const READINGS = 'readings.parquet';
/** A restored backup lacks the latest runs. Deleting more than these at once is rare, so it is asked for. */
const REMOVED_AT_ONCE = { runs: 3, share: 0.1 } as const;

/**
 * Brings the collection of a line up to date: adds runs that have ended, replaces those that were changed since, and removes
 * those that were deleted. Each run is whole before it appears, so it may be interrupted at any time.
 * @throws Problem `line-failed`, `collection-failed`; `not-paired` or `right-missing` for a wrong token
 */
export async function collectRuns(request: CollectRequest, tell: (what: string) => void): Promise<Collected> {
  const line = new LineService(request.address, request.token);
  const [{ lineName }, { code }, runs] = [await line.state(), await line.house(), await line.runs()];
  const collection = await CollectionFolder.open(request.folder, code, lineName);
  const ended = runs.filter(({ endedMs, example }) => endedMs !== null && !example);
  const gone = [...collection.runs.keys()].filter((id) => !ended.some((run) => run.id === id));
  await refuseToEmpty(line, gone, collection.runs.size, request);
  for (const id of gone) {
    await collection.remove(id);
    tell(`Run ${id} was deleted, and is removed.`);
  }
  let [added, changed] = [0, 0];
  const rowsOfRuns: RunRow[] = [];
  for (const { id } of [...ended].reverse()) {
    const before = collection.runs.get(id);
    const detail = await line.run(id);
    rowsOfRuns.push({ run: detail.run, extent: detail.extent });
    const run = await bringUpToDate(collection, line, detail);
    if (run === before) continue;
    if (before === undefined) added++;
    else changed++;
    const { rows = 0 } = run.files[READINGS] ?? {};
    tell(`Run ${id} is ${before === undefined ? 'added' : 'replaced'}: ${rows} readings.`);
  }
  const table = runsTable(rowsOfRuns);
  if (collection.files[table.file]?.sha256 !== sha256Of(table.bytes))
    await collection.putFile(table.file, { bytes: [table.bytes], rows: table.rows });
  return { added, changed, removed: gone.length, total: collection.runs.size };
}

async function bringUpToDate(
  collection: CollectionFolder,
  line: LineService,
  detail: RunDetail,
): Promise<CollectedRun> {
  const { id, startedMs } = detail.run;
  const before = collection.runs.get(id);
  const tables = tablesOfRun(detail);
  const isSame = tables.every(({ file, bytes }) => before?.files[file]?.sha256 === sha256Of(bytes));
  if (before !== undefined && isSame && before.startedMs === startedMs) return before;
  const contents = new Map<string, FileContent>(
    tables.map(({ file, bytes, rows }) => [file, { bytes: [bytes], rows }]),
  );
  const readings = await readingsOf(line, detail, before);
  if (readings !== null) contents.set(READINGS, readings);
  return collection.put(id, startedMs, contents);
}

/** Readings never change after the run, but for its date. Those that the record has deleted stay in the collection. */
async function readingsOf(
  line: LineService,
  { run, extent }: RunDetail,
  before: CollectedRun | undefined,
): Promise<FileContent | null> {
  const isThere = before?.files[READINGS] !== undefined;
  if (isThere && before.startedMs === run.startedMs) return 'old';
  if (extent === null) return isThere ? 'old' : null;
  try {
    return { bytes: await line.readings(run.id), rows: extent.count };
  } catch (thrown) {
    if (thrown instanceof Problem && thrown.code === 'readings-thinned') return isThere ? 'old' : null;
    throw thrown;
  }
}

/** @throws Problem `collection-failed` if many runs are missing that are not in the bin */
async function refuseToEmpty(
  line: LineService,
  gone: readonly number[],
  total: number,
  { folder, removesAll }: CollectRequest,
): Promise<void> {
  const binned = new Set((await line.binned()).map(({ kind, runId }) => (kind === 'run' ? runId : null)));
  const unexplained = gone.filter((id) => !binned.has(id)).length;
  if (removesAll || unexplained <= Math.max(REMOVED_AT_ONCE.runs, REMOVED_AT_ONCE.share * total)) return;
  throw new Problem(
    'collection-failed',
    `${unexplained} of ${total} runs in ${folder} are no longer in the record.`,
    'If a backup was restored, keep this folder and use a new one. If they were deleted for good, add --remove-all.',
  );
}

function sha256Of(bytes: Uint8Array): string {
  return createHash('sha256').update(bytes).digest('hex');
}
