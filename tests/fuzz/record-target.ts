import { copyFileSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import Sqlite from 'better-sqlite3';
import { Problem } from '../../server/problem/problem.ts';
import { DATABASE_FILE } from '../../server/store/database.ts';
import { MUTE, startTestService } from '../api/test-service.ts';
import { cellsOf, changingStatement, damage } from './damaged-tables.ts';
import { startFedService } from './fed-service.ts';
import type { FuzzTarget } from './fuzz.ts';

interface RecordInput {
  readonly sql: string;
}

const LISTS = ['state', 'runs', 'runs/1', 'spools', 'spools/1', 'spools/1/cut-plan', 'spools/1/judgement', 'stock'];
const MORE_LISTS = [
  'people',
  'alarms',
  'alarm-journal',
  'lines',
  'printers',
  'lots',
  'devices',
  'tokens',
  'log',
  'bin',
];

const CHOICES = {
  ...{ printerId: 1, objective: 'prints', prints: [{ amount: 1, unit: 'metres' }], shortestMm: 200 },
  ...{ doubtful: 'keep', unknown: 'keep' },
};

/** The record of the service itself, one field of which a failing disk has changed: it starts, and no list fails. */
export const recordTarget: FuzzTarget<RecordInput> = {
  name: 'record',
  unit: 'records',
  casesInTest: 6,
  // Each is a start, during which no page waits.
  blockedMaxMs: 500,
  async open() {
    const folder = mkdtempSync(join(tmpdir(), 'strandward-fuzz-'));
    const genuine = join(folder, 'genuine.sqlite');
    await fillRecord(genuine);
    const cells = cellsOf(genuine);
    const attempt = async ({ sql }: RecordInput) => {
      const dataFolder = mkdtempSync(join(folder, 'record-'));
      copyFileSync(genuine, join(dataFolder, DATABASE_FILE));
      damage(join(dataFolder, DATABASE_FILE), [sql]);
      try {
        await tryRecord(dataFolder);
      } finally {
        rmSync(dataFolder, { recursive: true, force: true });
      }
      return 1;
    };
    // The first start of a process takes longest, whatever it starts with.
    await attempt({ sql: '' });
    return {
      make: (choose) => ({ sql: changingStatement(choose, cells) }),
      attempt,
      close: async () => rmSync(folder, { recursive: true, force: true }),
    };
  },
};

/** Of every kind that users and the service keep, something. */
async function fillRecord(file: string): Promise<void> {
  const service = await startFedService();
  try {
    service.monitor.setStage('stopped', 'test');
    await service.monitor.stop();
    const hook = { name: 'Hook', settings: { kind: 'webhook', url: 'http://127.0.0.1:9/', secret: '', template: '' } };
    const statements: readonly (readonly [string, string, object])[] = [
      ['POST', '/api/channels', hook],
      ['POST', '/api/people', { name: 'Ada', channelIds: [1], leastPriority: 'low', quiet: null, round: 1 }],
      ['POST', '/api/drills', {}],
      ['POST', '/api/lines', { address: 'http://127.0.0.1:9', watchToken: 'token' }],
      ['POST', '/api/tokens', { name: 'night log', right: 'watch' }],
      ['POST', '/api/printers', { name: 'Kiln', hotendLimitMm: 1.9, smallestFeedableMm: 1.6, toleranceMm: 0.05 }],
      ['PUT', '/api/settings', { lineName: 'Loft' }],
      ['PUT', '/api/alarm-types/blob', { onDelayS: 1 }],
      ['PUT', '/api/runs/1/note', { note: 'dusty' }],
      ['POST', '/api/spools/1/sections', { fromSpoolMm: 100, toSpoolMm: 200, verdict: 'discard', note: '' }],
      ['PUT', '/api/spools/1/weighing', { grossG: 206, tareG: 200, uncertaintyG: 0.1 }],
      ['PUT', '/api/spools/1/length-correction', { measuredMm: 990, indicatedMm: 1000, uncertaintyMm: 1 }],
      ['PUT', '/api/spools/1/choices', CHOICES],
      ['POST', '/api/spools/1/cuts', { action: 'discard', countedMm: 100 }],
      ['PUT', '/api/spools/1/coils/1', { name: 'good one' }],
    ];
    for (const [method, path, body] of statements) {
      const { status, body: answer } = await service.send(method, path, body);
      if (status >= 300) throw new Error(`${method} ${path}: ${status} ${JSON.stringify(answer)}`);
    }
    const db = new Sqlite(join(dirname(service.store.maintenance.scratchPath()), DATABASE_FILE));
    db.prepare('VACUUM INTO ?').run(file);
    db.close();
  } finally {
    await service.stop();
  }
}

async function tryRecord(dataFolder: string): Promise<void> {
  let service: Awaited<ReturnType<typeof startTestService>>;
  try {
    service = await startTestService(MUTE, {}, undefined, null, { dataFolder });
  } catch (refused) {
    // Such as a part of the record that is missing: it says what to do, and does not begin a new one.
    if (refused instanceof Problem) return;
    throw refused;
  }
  try {
    service.start();
    for (const list of [...LISTS, ...MORE_LISTS]) {
      const { status, bytes } = await service.bytes(`/api/${list}`);
      if (status >= 500) throw new Error(`${list}: ${status} ${Buffer.from(bytes).toString().slice(0, 400)}`);
    }
  } finally {
    await service.stop();
  }
}
