import { createHash, randomBytes } from 'node:crypto';
import { appendFileSync, readdirSync, readFileSync, readlinkSync, rmSync, writeFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { gunzipSync, gzipSync } from 'node:zlib';
import Sqlite from 'better-sqlite3';
import { afterEach, describe, expect, it } from 'vitest';
import type { RunDetail, WindowView } from '../../server/api/contract/runs-and-spools.ts';
import type { Source } from '../../server/source/source.ts';
import { DATABASE_FILE } from '../../server/store/database.ts';
import { IS_LONG_CHECK } from '../long-check.ts';
import { startTestService, type TestService, woundFromLines } from './test-service.ts';

const ARCHIVE = 'application/vnd.strandward.run';
const services: TestService[] = [];
afterEach(async () => {
  for (const service of services.splice(0)) await service.stop();
});

/** A wound spool with a blob; `upTo` mm thick. */
async function wound(peakMm: number, count = 4000): Promise<TestService> {
  const lines = Array.from({ length: count }, (_, i) => {
    const d = i > 2500 && i < 2530 ? peakMm : 1.75 + (i % 7) / 1000;
    return `ms=${i * 20} len=${(i * 0.7).toFixed(1)} v=35 d=${d.toFixed(3)} t1=${(200 + (i % 5) / 10).toFixed(1)} odd=${i}`;
  });
  const service = await woundFromLines(lines);
  services.push(service);
  return service;
}

async function take(service: TestService, bytes: Uint8Array, query = '') {
  const response = await fetch(`${service.address}/api/runs/import${query}`, {
    method: 'POST',
    headers: { 'content-type': ARCHIVE },
    body: bytes as BodyInit,
  });
  return { status: response.status, body: (await response.json()) as { id: number; title: string; detail: string } };
}

const digest = (value: unknown) => createHash('sha256').update(JSON.stringify(value)).digest('hex');

describe('a run archive', () => {
  it('is imported by another installation with readings, spools, sections, alarms, notes and log', async () => {
    const home = await wound(2.1);
    const spool = (await home.get<RunDetail>('/api/runs/1')).spools[0]!;
    await home.send('PUT', '/api/runs/1/note', { note: 'from home' });
    await home.send('PUT', `/api/spools/${spool.id}/coils/1`, { name: 'the good coil' });
    const { bytes, headers, status } = await home.bytes('/api/runs/1/archive');
    expect(status).toBe(200);
    expect(headers.get('content-disposition')).toBe('attachment; filename="R1.strandward-run"');

    // Of another length: two houses may by chance have the same code, and then only that tells their first runs apart.
    const away = await wound(1.95, 3990);
    const before = await away.get<RunDetail>('/api/runs/1');
    const taken = await take(away, bytes);
    expect(taken).toMatchObject({ status: 201, body: { id: 2 } });
    const [there, here] = [await home.get<RunDetail>('/api/runs/1'), await away.get<RunDetail>('/api/runs/2')];
    expect(here.run.note).toBe('from home');
    expect(here.extent).toStrictEqual(there.extent);
    expect(here.sections.map((s) => [s.kind, s.peakMm])).toStrictEqual(there.sections.map((s) => [s.kind, s.peakMm]));
    expect(here.alarms.length).toBe(there.alarms.length);
    expect(here.alarms.map(({ step, timeMs }) => [step, timeMs])).toStrictEqual(
      there.alarms.map(({ step, timeMs }) => [step, timeMs]),
    );
    // Their places refer to the run with its new id.
    const placesOf = (of: TestService, runId: number) =>
      of.store.reader
        .alarmJournal(runId)
        .flatMap(({ alarm: { facts } }) => (facts.gaugeMm === undefined ? [] : [[facts.runId, facts.gaugeMm]]));
    expect(placesOf(away, 2).length).toBeGreaterThan(0);
    expect(placesOf(away, 2)).toStrictEqual(placesOf(home, 1).map(([, gaugeMm]) => [2, gaugeMm]));
    expect(here.spools).toHaveLength(there.spools.length);
    const path = (id: number) =>
      `/api/runs/${id}/window?axis=time&from=${there.extent!.fromMs}&to=${there.extent!.toMs}&columns=700&signals=d,t1,odd`;
    expect(await away.get<WindowView>(path(2))).toStrictEqual(await home.get<WindowView>(path(1)));
    // Existing runs are unchanged, and no imported alarm becomes active.
    expect(digest((await away.get<RunDetail>('/api/runs/1')).sections)).toBe(digest(before.sections));
    expect(away.store.writer.standingAlarms().filter(({ id }) => id < 0)).toStrictEqual([]);
    // A second time it is recognised, here and where it was made, unless another run of it is wanted.
    expect(await take(away, bytes)).toStrictEqual({ status: 200, body: { id: 2, alreadyHere: true } });
    expect(await take(home, bytes)).toStrictEqual({ status: 200, body: { id: 1, alreadyHere: true } });
    expect((await take(away, bytes, '?again=true')).body).toStrictEqual({ id: 3, alreadyHere: false });
    expect(await away.get<unknown[]>('/api/runs')).toHaveLength(3);
    // A deleted run does not count.
    for (const id of [2, 3]) await away.send('DELETE', `/api/runs/${id}`);
    expect((await take(away, bytes)).body).toStrictEqual({ id: 4, alreadyHere: false });
    expect(
      readdirSync(dirname(away.store.maintenance.scratchPath())).filter((n) => n.startsWith('under-way')),
    ).toStrictEqual([]);
  }, 60_000);

  it('is refused when it is damaged, cut short, something else, or of a run that is still running', async () => {
    const home = await wound(2.1);
    const { bytes } = await home.bytes('/api/runs/1/archive');
    const flipped = bytes.slice();
    flipped[Math.floor(bytes.length * 0.6)]! ^= 8;
    const other = 'it is damaged, or another kind of file';
    for (const [wrong, why] of [
      [flipped, other],
      [bytes.slice(0, bytes.length / 2), 'it is cut short'],
      [new Uint8Array(5000), other],
      [new TextEncoder().encode('d=1.75\n'), other],
    ] as const) {
      const { status, body } = await take(home, wrong);
      expect([status, body.title]).toEqual([422, `This file cannot be imported as a run: ${why}.`]);
    }
    expect((await home.send('POST', '/api/runs/import', {})).status).toBe(422);
    expect((await home.get<unknown[]>('/api/runs')).length).toBe(1);
    const open = home.store.writer.beginRun({ startedMs: 1, timeZone: 'UTC', sourceTitle: 'x' });
    expect((await home.bytes(`/api/runs/${open.id}/archive`)).status).toBe(409);
    expect((await home.bytes('/api/runs/99/archive')).status).toBe(404);
  }, 60_000);

  it.skipIf(!IS_LONG_CHECK)(
    'is imported while a line is being watched: no reading is lost, and each run has its own number',
    async () => {
      const { bytes } = await (await wound(2.1)).bytes('/api/runs/1/archive');
      let send: (n: number) => void = () => {};
      const line: Source = {
        title: 'a line that is wound',
        timing: 'live',
        resumable: true,
        start(listener) {
          listener.opened();
          listener.status({ phase: 'open', text: 'Reading.' });
          send = (n) => listener.bytes(Buffer.from(`ms=${n * 20} n=${n} d=1.75 v=35\n`), performance.now());
        },
        stop: async () => {},
      };
      const watching = await startTestService(line);
      services.push(watching);
      watching.monitor.start();
      let n = 0;
      const timer = setInterval(() => send(++n), 1);
      const taking = take(watching, bytes);
      // The line starts its own run in the middle of the import.
      watching.monitor.setStage('winding', 'test');
      expect(await taking).toMatchObject({ status: 201 });
      clearInterval(timer);
      const own = watching.monitor.snapshot().run!;
      const taken = (await taking).body.id;
      expect([own.id, taken].sort()).toStrictEqual([1, 2]);
      const { counters } = watching.monitor.snapshot().link;
      expect(counters.lost).toBe(0);
      const detail = await watching.get<RunDetail>(`/api/runs/${taken}`);
      expect(detail.extent!.count).toBe(4000);
      expect(detail.run.sourceTitle).not.toBe('a line that is wound');
      await watching.monitor.stop();
    },
    60_000,
  );

  it.skipIf(!IS_LONG_CHECK)(
    'leaves no file behind, and none open, when the download is cancelled',
    async () => {
      const home = await wound(2.1);
      // Larger than the buffers of sockets and streams, with incompressible bytes, so that the reader stops in the middle.
      const writeArchive = home.store.maintenance.writeArchive;
      Object.assign(home.store.maintenance, {
        writeArchive: async (runId: number, target: string) => {
          await writeArchive(runId, target);
          appendFileSync(target, randomBytes(64 * 2 ** 20));
        },
      });
      const folder = dirname(home.store.maintenance.scratchPath());
      const underWay = () => readdirSync(folder).filter((name) => name.startsWith('under-way'));
      const stop = new AbortController();
      const reply = await fetch(`${home.address}/api/runs/1/archive`, { signal: stop.signal });
      await reply.body!.getReader().read();
      expect(underWay()).toHaveLength(1);
      stop.abort();
      await expect.poll(underWay, { timeout: 30_000 }).toStrictEqual([]);
      // Linux lists open files; a removed file that is still open is named "… (deleted)".
      const open = () =>
        readdirSync('/proc/self/fd').filter((fd) => {
          try {
            return readlinkSync(`/proc/self/fd/${fd}`).includes('under-way');
          } catch {
            return false;
          }
        });
      if (process.platform === 'linux') await expect.poll(open, { timeout: 30_000 }).toStrictEqual([]);
    },
    60_000,
  );

  it('fails the download, not the service, when its file cannot be read', async () => {
    const home = await wound(2.1);
    Object.assign(home.store.maintenance, { writeArchive: async () => {} });
    expect((await home.bytes('/api/runs/1/archive')).status).toBe(500);
    expect((await home.get<unknown[]>('/api/runs')).length).toBe(1);
  }, 60_000);

  it('cannot inject SQL into the queries of the record', async () => {
    const home = await wound(2.1);
    const { bytes } = await home.bytes('/api/runs/1/archive');
    const crafted = async (sql: string) => {
      const path = home.store.maintenance.scratchPath();
      writeFileSync(path, gunzipSync(bytes));
      const db = new Sqlite(path);
      db.pragma('foreign_keys = OFF');
      db.exec(sql);
      db.close();
      const packed = gzipSync(readFileSync(path));
      rmSync(path);
      return take(home, packed, '?again=true');
    };
    const before = await home.get('/api/runs/1');
    const name = 'id) VALUES (?); DELETE FROM main.run; --';
    for (const sql of [
      `ALTER TABLE run ADD COLUMN "${name}" TEXT`,
      `ALTER TABLE alarm ADD COLUMN "${name}" TEXT`,
      `ALTER TABLE run RENAME COLUMN source_title TO "${name}"`,
      "CREATE VIEW seen AS SELECT load_extension('x')",
      "UPDATE alarm SET payload = 'no JSON'",
    ]) {
      const { status, body } = await crafted(sql);
      expect([sql, status]).toStrictEqual([sql, 422]);
      expect(body.title).toMatch(/^This file cannot be imported as a run/);
    }
    expect((await home.get<unknown[]>('/api/runs')).length).toBe(1);
    expect(await home.get('/api/runs/1')).toStrictEqual(before);
  }, 60_000);

  it.skipIf(!IS_LONG_CHECK)(
    'includes the examination of a spool only if its readings were deleted',
    async () => {
      const home = await wound(2.1);
      const away = await wound(1.95);
      const answersOf = async (of: TestService, runId: number) => {
        const { id } = (await of.get<RunDetail>(`/api/runs/${runId}`)).spools[0]!;
        const path = `/api/spools/${id}/judgement`;
        const asked = await Promise.all([of.send('GET', path), of.send('GET', `${path}?by=run`)]);
        return asked.map(({ status, body }) => {
          const { statistics, flow, verdict, advice } = body as Record<string, object>;
          return { status, statistics, flow, fitness: (verdict as { fitness?: string } | undefined)?.fitness, advice };
        });
      };
      const kept = (of: TestService) => {
        const db = new Sqlite(join(dirname(of.store.maintenance.scratchPath()), DATABASE_FILE), { readonly: true });
        const spools = db.prepare<[], number>('SELECT spool_id FROM examination').pluck().all();
        db.close();
        return spools;
      };
      const there = await answersOf(home, 1);
      expect(there.map(({ status }) => status)).toStrictEqual([200, 200]);
      const whole = (await home.bytes('/api/runs/1/archive')).bytes;
      while (home.store.maintenance.thinStep(8e15, Date.now()) !== null);
      const { bytes } = await home.bytes('/api/runs/1/archive');

      // With readings, it is computed from them.
      expect(await take(away, whole)).toMatchObject({ status: 201, body: { id: 2 } });
      expect(kept(away)).toStrictEqual([]);
      expect(await answersOf(away, 2)).toStrictEqual(there);

      expect(await take(away, bytes, '?again=true')).toMatchObject({ status: 201, body: { id: 3 } });
      expect(await answersOf(away, 3)).toStrictEqual(there);

      // An unreadable entry counts as missing and does no harm.
      const path = home.store.maintenance.scratchPath();
      writeFileSync(path, gunzipSync(bytes));
      const db = new Sqlite(path);
      db.exec(`UPDATE examination SET payload = json_replace(payload, '$.statistics', json('{}'))`);
      db.close();
      const damaged = gzipSync(readFileSync(path));
      rmSync(path);
      expect(await take(away, damaged, '?again=true')).toMatchObject({ status: 201, body: { id: 4 } });
      expect((await answersOf(away, 4)).map(({ status }) => status)).toStrictEqual([410, 410]);
    },
    60_000,
  );

  it('is neither written nor imported if the disk would fill, and waits its turn', async () => {
    const home = await wound(2.1);
    const { maintenance } = home.store;
    const { writeArchive, freeBytes } = maintenance;
    const { bytes } = await home.bytes('/api/runs/1/archive');
    // The data columns of blocks and summaries are most of the archive, and never more than the file.
    expect(maintenance.runBytes(1)).toBeGreaterThan(bytes.length / 3);
    expect(maintenance.runBytes(1)).toBeLessThan(gunzipSync(bytes).length);
    expect(maintenance.runBytes(2)).toBe(0);
    const limit = home.monitor.settings.freeSpaceAlarmGb * 1e9;
    Object.assign(maintenance, { freeBytes: () => limit + maintenance.runBytes(1) - 1 });
    expect((await home.bytes('/api/runs/1/archive')).status).toBe(507);
    expect(await take(home, bytes)).toMatchObject({
      status: 507,
      body: { code: 'record-failing', title: expect.stringMatching(/^There is not enough space on the disk/) },
    });
    Object.assign(maintenance, { freeBytes });
    let go: () => void = () => {};
    const held = new Promise<void>((resolve) => {
      go = resolve;
    });
    const writing = new Promise<void>((resolve) => {
      Object.assign(maintenance, {
        writeArchive: async (runId: number, target: string) => {
          resolve();
          await held;
          await writeArchive(runId, target);
        },
      });
    });
    const first = home.bytes('/api/runs/1/archive');
    await writing;
    const others = [home.bytes('/api/runs/1/archive'), take(home, bytes, '?again=true')];
    let answered = 0;
    for (const other of others) void other.then(() => answered++);
    await new Promise((resolve) => setTimeout(resolve, 300));
    expect(answered).toBe(0);
    expect(await home.get<unknown[]>('/api/runs')).toHaveLength(1);
    go();
    expect((await Promise.all([first, ...others])).map(({ status }) => status)).toStrictEqual([200, 200, 201]);
    expect(await home.get<unknown[]>('/api/runs')).toHaveLength(2);
  }, 60_000);

  it.skipIf(!IS_LONG_CHECK)(
    'is not held up by another one that is slow or fails',
    async () => {
      const home = await wound(2.1);
      const { maintenance } = home.store;
      const { writeArchive } = maintenance;
      const { bytes } = await home.bytes('/api/runs/1/archive');
      // Larger than what sockets and streams hold.
      Object.assign(maintenance, {
        writeArchive: async (runId: number, target: string) => {
          await writeArchive(runId, target);
          appendFileSync(target, randomBytes(64 * 2 ** 20));
        },
      });
      const stop = new AbortController();
      const stalled = await fetch(`${home.address}/api/runs/1/archive`, { signal: stop.signal });
      await stalled.body!.getReader().read();
      Object.assign(maintenance, { writeArchive: () => Promise.reject(new Error('no')) });
      expect((await home.bytes('/api/runs/1/archive')).status).toBe(500);
      Object.assign(maintenance, { writeArchive });
      expect((await home.bytes('/api/runs/1/archive')).status).toBe(200);
      expect((await take(home, bytes, '?again=true')).status).toBe(201);
      stop.abort();
    },
    60_000,
  );
});
