import { readFileSync, rmSync } from 'node:fs';
import { join } from 'node:path';
import { gzipSync } from 'node:zlib';
import Sqlite from 'better-sqlite3';
import type { LiveState } from '../../server/api/contract/live-state.ts';
import { ARCHIVE_TYPE } from '../../server/api/contract/record.ts';
import { DATABASE_FILE } from '../../server/store/database.ts';
import { openStore } from '../../server/store/index.ts';
import { backupsIn } from '../../server/store/maintenance/backup-list.ts';
import { checkFile } from '../../server/store/maintenance/check-file.ts';
import { seeded } from '../chance.ts';
import { newDataFolder, type RunningService, startService, until } from '../service/running-service.ts';
import { killedMigrations } from './killed-migrations.ts';
import { killedRestores } from './killed-restores.ts';
import { lostByKills } from './morning.ts';
import { NightBoard } from './night-board.ts';

/** How often something was true of a killed service, by what it was. */
export type Counts = Map<string, number>;

export function count(counts: Counts, what: string): void {
  counts.set(what, (counts.get(what) ?? 0) + 1);
}

export interface KillReport {
  readonly counts: Counts;
  /** The most readings that a kill cost, s. */
  readonly lostS: number;
  readonly facts: number;
  /** Broken promises, as sentences. */
  readonly broken: readonly string[];
}

/** What is under way when the process is killed. Most kills come while it only watches. */
const SITUATIONS = ['watching', 'watching', 'watching', 'import', 'backup', 'migration', 'restore'] as const;
type Situation = (typeof SITUATIONS)[number];

const WATCHED_MAX_MS = 3000;
const LOST_MAX_S = 1;
const FACT_EVERY_MS = 200;
const ARCHIVED_READINGS = 40_000;
const ARCHIVED_NOTE = 'from an archive';

const pause = (ms: number) => new Promise((resolve) => setTimeout(resolve, ms));

/**
 * Kills the service and its commands at moments by chance: while it watches a line over TCP and users enter facts, imports an
 * archive, makes a backup, carries an older layout forward, or restores a backup.
 */
export async function killRounds(rounds: number, seed: number): Promise<KillReport> {
  const random = seeded(seed);
  const counts: Counts = new Map();
  const broken: string[] = [];
  const board = new NightBoard(seed, seeded(seed + 1), 1);
  await board.start();
  const dataFolder = newDataFolder();
  const archive = await makeArchive();
  const migrate = await killedMigrations(counts, broken);
  const restore = await killedRestores(counts, broken);
  const facts: string[] = [];
  const killedMs: number[] = [];
  /** How long a task takes if nothing ends it. */
  const takesMs: Partial<Record<Situation, number>> = {};
  const begin = () => startService({ source: `tcp:127.0.0.1:${board.port}`, dataFolder, args: ['--log', 'warn'] });

  // Nothing is recorded before the strand is wound.
  const first = await begin();
  const stage = () => first.get<LiveState>('/api/state');
  await until(stage, (state) => state.stage.stage === 'winding', 'winding', 180_000);
  await first.kill();

  /** @returns whether the service answered with success before it was killed */
  const killDuring = async (situation: Situation, task: (service: RunningService) => Promise<boolean>) => {
    const service = await begin();
    if (takesMs[situation] === undefined) {
      const beganMs = performance.now();
      await task(service);
      takesMs[situation] = performance.now() - beganMs;
    }
    const entering = enterFacts(service, facts);
    const answered = task(service).catch(() => false);
    await pause(random() * 2 * (takesMs[situation] ?? 0));
    killedMs.push(performance.now());
    await service.kill();
    await entering;
    return answered;
  };

  const imports = async () => {
    const before = await archivedRuns(dataFolder, broken);
    const hadToMeasure = takesMs.import === undefined;
    const answered = await killDuring('import', (service) => importInto(service, archive));
    const after = await archivedRuns(dataFolder, broken);
    const gained = after - before - (hadToMeasure ? 1 : 0);
    if (answered && gained !== 1) broken.push('An import was answered with success and is not in the record.');
    count(counts, gained === 1 ? 'import whole' : 'import not begun');
  };
  const backups = async () => {
    const folder = join(dataFolder, 'backups');
    const kept = facts.length;
    const before = backupsIn(folder).map(({ path }) => path);
    const answered = await killDuring('backup', backUp);
    const made = backupsIn(folder).filter(({ path }) => !before.includes(path));
    if (answered && made.length === 0) broken.push('A backup was answered with success and is not there.');
    for (const { path } of made) {
      const [fault] = checkFile(path);
      if (fault !== undefined || namesIn(path).size < kept) broken.push(`A backup is not whole: ${fault ?? path}.`);
    }
    count(counts, made.length > 0 ? 'backup whole' : 'backup not made');
  };
  const provoke: Record<Situation, () => Promise<unknown>> = {
    watching: () => {
      takesMs.watching = WATCHED_MAX_MS;
      return killDuring('watching', async () => false);
    },
    import: imports,
    backup: backups,
    migration: () => migrate.round(random),
    restore: () => restore.round(random),
  };
  for (let round = 0; round < rounds; round++) {
    const situation = SITUATIONS[Math.floor(random() * SITUATIONS.length)] ?? 'watching';
    count(counts, `killed: ${situation}`);
    await provoke[situation]();
  }
  const last = await begin();
  await pause(2000);
  await last.stop();
  board.stop();
  for (const made of [migrate, restore]) made.remove();
  const lengths = await storedLengths(dataFolder, broken);
  const entered = namesIn(join(dataFolder, DATABASE_FILE));
  for (const fact of facts) if (!entered.has(fact)) broken.push(`Lost: ${fact}.`);
  const lost = lostByKills(killedMs, board.sent, lengths);
  const lostS = Math.max(0, ...lost);
  for (const s of lost) if (s > LOST_MAX_S) broken.push(`A kill cost ${s.toFixed(2)} s of readings.`);
  if (broken.length === 0) rmSync(dataFolder, { recursive: true, force: true });
  else broken.push(`The record is kept in ${dataFolder}.`);
  return { counts, lostS, facts: facts.length, broken };
}

/** Enters one fact after the other until the service is killed. */
async function enterFacts(service: RunningService, facts: string[]): Promise<void> {
  const settings = { kind: 'webhook', url: 'http://127.0.0.1:9/', secret: '', template: '' };
  const person = { channelIds: [], leastPriority: 'low', quiet: null, round: 1 };
  const printer = { hotendLimitMm: 1.9, smallestFeedableMm: 1.6, toleranceMm: 0.05 };
  for (;;) {
    // One that was not answered may have been entered under its name.
    const name = `fact ${facts.length} of process ${service.process.pid}`;
    const [path, more] = (
      [
        ['printers', printer],
        ['channels', { settings }],
        ['people', person],
      ] as const
    )[facts.length % 3]!;
    // A request that was not answered may or may not have been done.
    const reply = await service.send('POST', `/api/${path}`, { name, ...more }).catch(() => null);
    if (reply === null) return;
    if (reply.status !== 201) throw new Error(`${path}: ${JSON.stringify(reply)}`);
    facts.push(name);
    await pause(FACT_EVERY_MS);
  }
}

async function importInto(service: RunningService, archive: Buffer): Promise<boolean> {
  const headers = { 'content-type': ARCHIVE_TYPE };
  const reply = await fetch(`${service.address}/api/runs/import?again=true`, {
    method: 'POST',
    headers,
    body: new Uint8Array(archive),
  });
  return reply.status === 201;
}

async function backUp(service: RunningService): Promise<boolean> {
  return (await service.send('POST', '/api/record/backup')).status === 200;
}

/** An archive with readings and a note. */
async function makeArchive(): Promise<Buffer> {
  const folder = newDataFolder();
  const store = openStore({ folder });
  const { id } = store.writer.beginRun({ startedMs: 1_750_000_000_000, timeZone: 'UTC', sourceTitle: 'another line' });
  store.writer.setRunNote(id, ARCHIVED_NOTE);
  const layout = { signals: ['d', 't1', 'v'].map((name) => ({ name, role: null, unit: '' })) };
  for (let i = 0; i < ARCHIVED_READINGS; i++) {
    const values = [1.75 + (i % 97) / 1e4, 200 + (i % 9) / 10, 35];
    const reading = { timeMs: 1_750_000_000_000 + i * 20, layout, values, lostBefore: 0, restarted: false };
    store.samples.append(id, reading as never, i * 0.7);
  }
  store.samples.flush();
  store.writer.endRun(id, 1_750_000_000_000 + ARCHIVED_READINGS * 20);
  const path = join(folder, 'run.sqlite');
  await store.maintenance.writeArchive(id, path);
  await store.close();
  const bytes = gzipSync(readFileSync(path));
  rmSync(folder, { recursive: true, force: true });
  return bytes;
}

/** @returns how many runs of the archive are in the record; each must be whole */
async function archivedRuns(folder: string, broken: string[]): Promise<number> {
  const store = openStore({ folder, readOnly: true });
  try {
    const runs = store.reader.runs().filter(({ note }) => note === ARCHIVED_NOTE);
    for (const { id } of runs) {
      const readings = (await store.columns.extent(id))?.count;
      if (readings !== ARCHIVED_READINGS) broken.push(`Run ${id} has ${readings} of ${ARCHIVED_READINGS} readings.`);
    }
    return runs.length;
  } finally {
    await store.close();
  }
}

/** Names of all printers, channels and people in a database. */
function namesIn(path: string): ReadonlySet<string> {
  const db = new Sqlite(path, { readonly: true });
  const names = `SELECT name FROM printer UNION SELECT name FROM channel UNION SELECT payload ->> '$.name' FROM contact`;
  try {
    return new Set(db.prepare<[], string>(names).pluck().all());
  } finally {
    db.close();
  }
}

/** What the length counter showed in each reading of the line that was watched. */
async function storedLengths(folder: string, broken: string[]): Promise<ReadonlySet<number>> {
  const store = openStore({ folder });
  try {
    const lengths = new Set<number>();
    for (const { id, note } of store.reader.runs()) {
      if (note === ARCHIVED_NOTE) continue;
      const { values } = await store.columns.readings(id, 0, 1e12, ['len']);
      for (const len of values.len ?? []) lengths.add(len);
    }
    return lengths;
  } finally {
    await store.close();
    const db = new Sqlite(join(folder, DATABASE_FILE), { readonly: true });
    if (db.pragma('integrity_check', { simple: true }) !== 'ok') broken.push('The record is damaged.');
    db.close();
  }
}
