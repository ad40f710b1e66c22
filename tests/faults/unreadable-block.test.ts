/** Blocks of readings that cannot be decoded although their checksums agree: their maker was another program. */
import { mkdtempSync, renameSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { crc32 } from 'node:zlib';
import Sqlite from 'better-sqlite3';
import { expect, it } from 'vitest';
import type { RunView } from '../../server/api/contract/runs-and-spools.ts';
import { DATABASE_FILE } from '../../server/store/database.ts';
import { startTestService, woundFromLines } from '../api/test-service.ts';

const lines = Array.from({ length: 40_000 }, (_, i) => {
  const d = i > 600 && i < 630 ? 2.1 : 1.75 + (i % 7) / 1000;
  return `ms=${i * 20} len=${(i * 0.7).toFixed(1)} v=35 d=${d.toFixed(3)}`;
});

function spoil(folder: string, table: string, kept: number): void {
  const db = new Sqlite(join(folder, DATABASE_FILE));
  const all = db.prepare<[], { id: number; data: Buffer }>(`SELECT id, data FROM ${table}`).all();
  expect(all.length).toBeGreaterThan(0);
  for (const { id, data } of all) {
    data.fill(0xff, Math.min(kept, data.length - 8), data.length - 8);
    data.writeUInt32LE(crc32(data.subarray(4)), 0);
    db.prepare(`UPDATE ${table} SET data = ? WHERE id = ?`).run(data, id);
  }
  db.close();
}

it.each([
  ['sample_block', 60],
  ['sample_block', 400],
  ['sample_summary', 12],
])('%s of nonsense behind byte %d takes no list down', { timeout: 60_000 }, async (table, kept) => {
  const dataFolder = mkdtempSync(join(tmpdir(), 'strandward-block-'));
  const wound = await woundFromLines(lines);
  await wound.store.maintenance.backup(dataFolder, 0, 1);
  await wound.stop();
  renameSync(join(dataFolder, 'strandward-1970-01-01T00-00-00Z.sqlite'), join(dataFolder, DATABASE_FILE));
  spoil(dataFolder, table, kept);
  const service = await startTestService('simulator:steady', {}, undefined, null, { dataFolder });
  try {
    const [{ id }] = (await service.get<RunView[]>('/api/runs')) as [RunView];
    const paths = [
      ...['/api/runs', '/api/spools', '/api/trends', '/api/stock', '/api/nights', '/api/record', '/api/state'],
      ...[
        `/api/runs/${id}`,
        '/api/spools/1',
        '/api/spools/1/judgement',
        `/api/runs/${id}/summary`,
        `/api/runs/${id}/related`,
      ],
      `/api/runs/${id}/window?axis=time&from=0&to=9e12&columns=10&signals=d`,
      `/api/runs/${id}/export?format=csv`,
    ];
    const answers = await Promise.all(paths.map((path) => fetch(service.address + path)));
    expect(answers.map(({ url, status }) => [new URL(url).pathname, status])).toStrictEqual(
      answers.map(({ url }) => [new URL(url).pathname, 200]),
    );
    const csv = await answers.at(-1)!.text();
    expect(csv.trimEnd().split('\r\n')).toHaveLength(1 + lines.length);
  } finally {
    await service.stop();
    rmSync(dataFolder, { recursive: true, force: true });
  }
});
