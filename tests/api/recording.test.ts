import { mkdtempSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { gzipSync } from 'node:zlib';
import { afterEach, describe, expect, it } from 'vitest';
import { CONTRACT } from '../../server/api/contract/index.ts';
import type { RunDetail, RunView } from '../../server/api/contract/runs-and-spools.ts';
import type { RecordingState } from '../../server/monitor/recording-service.ts';
import type { Source } from '../../server/source/source.ts';
import { recordedLines } from '../bench/recorded-lines.ts';
import { casesOf, IS_LONG_CHECK } from '../long-check.ts';
import { startTestService, type TestService } from './test-service.ts';

const services: TestService[] = [];
const folders: string[] = [];
afterEach(async () => {
  for (const service of services.splice(0)) await service.stop();
  for (const folder of folders.splice(0)) rmSync(folder, { recursive: true });
});

const START_MS = Date.UTC(2021, 1, 3, 20, 15);

/** A winding line that sends the lines of a test. */
function scriptedLine() {
  let heard: Parameters<Source['start']>[0] | null = null;
  let n = 0;
  const line: Source = {
    title: 'a line that is wound',
    timing: 'live',
    resumable: true,
    start(listener) {
      heard = listener;
      listener.opened();
      listener.status({ phase: 'open', text: 'Reading.' });
    },
    stop: async () => {},
  };
  const send = () => heard?.bytes(Buffer.from(`ms=${++n * 20} n=${n} d=1.75 v=35\n`), performance.now());
  return { line, send };
}

async function idle(): Promise<TestService> {
  const service = await startTestService(scriptedLine().line);
  services.push(service);
  return service;
}

async function give(service: TestService, bytes: Uint8Array | string, name = 'night.log', query = '') {
  const response = await fetch(`${service.address}/api/recording?name=${encodeURIComponent(name)}${query}`, {
    method: 'POST',
    headers: { 'content-type': 'text/plain' },
    body: bytes as BodyInit,
  });
  type Answer = RecordingState & { title: string; detail: string };
  return { status: response.status, body: (await response.json()) as Answer };
}

const begin = (service: TestService, body: object, by = 'Kim') =>
  service.send('POST', '/api/recording/start', body, { 'strandward-by': by });

async function settled(service: TestService): Promise<RecordingState> {
  let state: RecordingState | null = null;
  await expect
    .poll(
      async () => {
        state = await service.get<RecordingState>('/api/recording');
        return state?.phase;
      },
      { timeout: 120_000 },
    )
    .toMatch(/done|failed/);
  return state!;
}

/** Everything that the service says of a run and its spools, as text, by its path: whatever can be asked without parameters. */
async function saidOf(service: TestService, runId: number): Promise<Readonly<Record<string, string>>> {
  const { spools } = await service.get<RunDetail>(`/api/runs/${runId}`);
  const paths = Object.keys(CONTRACT).flatMap((key) => {
    const path = key.startsWith('GET ') ? key.slice(4) : '';
    if (path.startsWith('/api/spools/:id')) return spools.map(({ id }) => path.replace(':id', String(id)));
    return /^\/api\/(runs|spools|nights|trends|stock)/.test(path) ? [path.replace(':id', String(runId))] : [];
  });
  const said = await Promise.all(
    paths.map(async (path) => {
      const answer = await fetch(`${service.address}${path}`);
      return answer.ok ? [[path, await answer.text()]] : [];
    }),
  );
  return Object.fromEntries(said.flat());
}

const left = (service: TestService) =>
  readdirSync(dirname(service.store.maintenance.scratchPath())).filter((name) => name.startsWith('under-way'));

/** Heated zones and strand being wound, with a blob near the end. */
function madeUp(count: number, line: (i: number, d: string) => string): string {
  let text = '';
  for (let i = 0; i < count; i++) {
    const d = i > count - 600 && i < count - 560 ? 2.1 : 1.75 + (i % 7) / 1000;
    text += `${line(i, d.toFixed(3))}\n`;
  }
  return text;
}

describe('a recorded log', () => {
  it('becomes the same run as its replay, with the stated date, and notifies no one', async () => {
    const bytes = recordedLines(40_000, 'contaminant');
    const folder = mkdtempSync(join(tmpdir(), 'recording-'));
    folders.push(folder);
    writeFileSync(join(folder, 'night.log'), bytes);
    const replayed = await startTestService(`file:${join(folder, 'night.log')}?pace=max&start=2021-02-03T20:15:00Z`);
    services.push(replayed);
    replayed.monitor.start();
    await expect.poll(() => replayed.monitor.snapshot().link.status.phase, { timeout: 60_000 }).toBe('ended');

    const service = await idle();
    const notified: unknown[] = [];
    service.monitor.subscribe({ alarms: (changes) => notified.push(...changes) });
    const given = await give(service, bytes);
    expect(given).toMatchObject({
      status: 201,
      body: { phase: 'ready', bytes: bytes.length, survey: { clock: 'device', shape: 'named' } },
    });
    expect(given.body.survey.rateHz).toBeCloseTo(50, 1);
    expect(given.body.lines).toBe(bytes.filter((byte) => byte === 10).length);
    expect(given.body.survey.spanMs! / 1000).toBeCloseTo(40_000 / 50, -1);
    expect((await begin(service, { startMs: START_MS })).status).toBe(200);
    const { runs, phase, problem } = await settled(service);
    expect({ phase, problem, runs }).toStrictEqual({ phase: 'done', problem: null, runs: [1] });
    const [there, here] = [await replayed.get<RunDetail>('/api/runs/1'), await service.get<RunDetail>('/api/runs/1')];
    expect(here.extent).toStrictEqual(there.extent);
    expect(Math.abs(here.extent!.fromMs - START_MS)).toBeLessThan(60_000);
    expect(here.sections).toStrictEqual(there.sections);
    expect(here.sections.length).toBeGreaterThan(0);
    const steps = ({ alarms }: RunDetail) => alarms.map(({ step, timeMs, alarm }) => [step, timeMs, alarm.sentence]);
    expect(steps(here)).toStrictEqual(steps(there));
    expect(here.run.sourceTitle).toBe('recorded log night.log');
    expect(notified).toStrictEqual([]);
    const said = await saidOf(service, 1);
    expect(Object.keys(said)).toEqual(
      expect.arrayContaining(['/api/runs/1', '/api/runs/1/alarm-load', '/api/spools/1']),
    );
    for (const [path, text] of Object.entries(said))
      expect(text.match(/.{0,40}\b(called|notified|woke|woken|alerted|paged|messaged)\b.{0,40}/gi), path).toBeNull();
    expect(service.store.writer.standingAlarms()).toStrictEqual([]);
    expect(left(service)).toStrictEqual([]);
  }, 180_000);

  it.skipIf(!IS_LONG_CHECK)(
    'without a clock is dated by the start and rate that the user enters',
    async () => {
      const service = await idle();
      const log = `d,v,t1,s1\n${madeUp(6000, (i, d) => `${d},35,${200 + (i % 3) / 10},200`)}`;
      const { body } = await give(service, log, 'bare.csv', `&changedMs=${START_MS}`);
      expect(body).toMatchObject({ changedMs: START_MS, survey: { clock: null, rateHz: null, spanMs: null } });
      expect((await begin(service, { startMs: START_MS })).status).toBe(400);
      for (const startMs of [Date.now() + 2 * 86_400_000, Date.UTC(1999, 0, 1), -1e300]) {
        expect((await begin(service, { startMs, rateHz: 20 })).status).toBe(400);
      }
      expect((await begin(service, { startMs: START_MS, rateHz: 20 })).status).toBe(200);
      expect((await settled(service)).runs).toStrictEqual([1]);
      const { extent } = await service.get<RunDetail>('/api/runs/1');
      // By hand: 6000 lines at 20 a second last 299.95 s, less what passed before the stage was seen.
      expect(extent!.toMs - START_MS).toBeCloseTo(299_950, -2);
      expect((extent!.toMs - extent!.fromMs) / (extent!.count - 1)).toBeCloseTo(50, 6);
    },
    120_000,
  );

  it.each(
    casesOf(
      [
        ['a time of day, over midnight', (i: number) => `${clock(23 * 3600 + 3550 + i / 10)} -> `, null],
        ['a date', (i: number) => `[${new Date(START_MS + i * 100).toISOString()}] `, START_MS],
      ],
      1,
    ),
  )(
    'with lines that contain %s is dated by it',
    async (_, stamp, startMs) => {
      const service = await idle();
      const { body } = await give(
        service,
        madeUp(3000, (i, d) => `${stamp(i)}d=${d} v=35 t1=200 s1=200`),
        'stamped.txt',
      );
      expect(body.survey).toMatchObject({ clock: 'stamps', stamped: true, startMs });
      expect(body.survey.rateHz).toBeCloseTo(10, 1);
      expect(body.survey.spanMs).toBeCloseTo(299_900, -1);
      await begin(service, { startMs: START_MS });
      const { runs, problem } = await settled(service);
      expect({ runs, problem }).toStrictEqual({ runs: [1], problem: null });
      const { extent } = await service.get<RunDetail>('/api/runs/1');
      expect(extent!.toMs - START_MS).toBeCloseTo(299_900, -1);
    },
    120_000,
  );

  it.skipIf(!IS_LONG_CHECK)(
    'with 10 lines per second and timestamps in whole seconds has no gaps in its strand',
    async () => {
      const service = await idle();
      const stamp = (i: number) => new Date(START_MS + i * 100).toISOString().slice(11, 19);
      const log = madeUp(3000, (i, d) => `${stamp(i)} d=${d} v=35 t1=200 s1=200`);
      const { body } = await give(service, log, 'seconds.txt');
      expect(body.survey.rateHz).toBeCloseTo(10, 0);
      await begin(service, { startMs: START_MS });
      expect((await settled(service)).problem).toBe(null);
      const { sections } = await service.get<RunDetail>('/api/runs/1');
      // Only the blob, and nothing unmeasured.
      expect(sections.map(({ kind }) => kind)).toStrictEqual(['blob']);
    },
    120_000,
  );

  it('is refused if it is not a log, with what was found and what to do, and leaves nothing behind', async () => {
    const service = await idle();
    const photo = new Uint8Array(50_000).fill(7);
    photo.set([0xff, 0xd8, 0xff, 0xe0]);
    const cases: readonly [bytes: Uint8Array | string, found: RegExp][] = [
      ['', /empty/],
      [photo, /a photo/],
      [Buffer.concat([Buffer.from('PK\u0003\u0004'), Buffer.alloc(9000, 1)]), /spreadsheet/],
      [gzipSync(madeUp(500, (_, d) => `d=${d}`)), /compressed/],
      [Buffer.from('d=1.75\r\n'.repeat(50), 'utf16le').toString('latin1'), /text|UTF-16/],
      ['The night was long.\nNothing was heard of it.\n'.repeat(40), /first line is “The night was long\.”/],
      ['date,amount,shop\n2031-02-03,17.5,2\n2031-02-04,3,1\n'.repeat(40), /log|names/],
      [madeUp(500, (_, d) => `d=${d}*00`), /checksum/],
    ];
    for (const [bytes, found] of cases) {
      const { status, body } = await give(service, bytes, 'thing');
      expect([status, body.title]).toStrictEqual([422, expect.stringMatching(found)]);
      expect(body.title).toMatch(/^thing could not be imported\. /);
      expect(body.detail).not.toBe('');
    }
    const response = await fetch(`${service.address}/api/recording`, {
      method: 'POST',
      headers: { 'content-type': 'text/plain' },
      body: 'The night was long.\n',
    });
    expect(await response.json()).toMatchObject({ title: expect.stringMatching(/^The log could not be imported\. /) });
    expect((await service.send('POST', '/api/recording', {})).status).toBe(422);
    expect(await service.get('/api/recording')).toBe(null);
    expect(await service.get<RunView[]>('/api/runs')).toStrictEqual([]);
    expect(left(service)).toStrictEqual([]);
  }, 60_000);

  it('without a running line is reported as such, and leaves nothing behind', async () => {
    const service = await idle();
    await give(
      service,
      madeUp(800, (i) => `ms=${i * 20} t1=21.5 s1=0 d=0`),
      'cold.log',
    );
    await begin(service, { startMs: START_MS });
    const { phase, problem, runs } = await settled(service);
    expect({ phase, runs }).toStrictEqual({ phase: 'failed', runs: [] });
    expect(problem!.title).toMatch(/^No run was found in cold\.log: it holds 800 readings/);
    expect(left(service)).toStrictEqual([]);
  }, 60_000);

  it.skipIf(!IS_LONG_CHECK)(
    'can be stopped, leaves nothing behind, and does not block the next one',
    async () => {
      const service = await idle();
      await give(service, recordedLines(80_000), 'long.log');
      await begin(service, { startMs: START_MS });
      await expect
        .poll(async () => (await service.get<RecordingState>('/api/recording')).progress.readings, {
          timeout: 60_000,
          interval: 5,
        })
        .toBeGreaterThan(0);
      expect((await give(service, 'd=1.75\n'.repeat(90))).status).toBe(409);
      expect((await service.send('DELETE', '/api/recording')).status).toBe(204);
      expect(await service.get('/api/recording')).toBe(null);
      expect(left(service)).toStrictEqual([]);
      expect(await service.get<RunView[]>('/api/runs')).toStrictEqual([]);
      expect((await begin(service, { startMs: START_MS })).status).toBe(409);
      await give(
        service,
        madeUp(3000, (i, d) => `ms=${i * 20} d=${d} v=35`),
      );
      await begin(service, { startMs: START_MS });
      expect((await settled(service)).phase).toBe('done');
    },
    120_000,
  );

  it.skipIf(!IS_LONG_CHECK)(
    'is imported while the line is watched, without affecting its readings',
    async () => {
      const { line, send } = scriptedLine();
      const service = await startTestService(line);
      services.push(service);
      service.monitor.start();
      service.monitor.setStage('winding', 'test');
      const timer = setInterval(send, 1);
      await give(
        service,
        madeUp(20_000, (i, d) => `ms=${i * 20} d=${d} v=35`),
      );
      await begin(service, { startMs: START_MS });
      const { runs } = await settled(service);
      clearInterval(timer);
      const own = service.monitor.snapshot().run!;
      expect(own.endedMs).toBe(null);
      expect(runs).toHaveLength(1);
      expect(runs[0]).not.toBe(own.id);
      expect(service.monitor.snapshot().link.counters.lost).toBe(0);
      expect((await service.get<RunView[]>('/api/runs')).length).toBe(2);
      await service.monitor.stop();
    },
    120_000,
  );

  it('is refused if it would fill the disk', async () => {
    const service = await idle();
    Object.assign(service.store.maintenance, { freeBytes: () => service.monitor.settings.freeSpaceAlarmGb * 1e9 + 10 });
    const { status, body } = await give(service, 'd=1.75\n'.repeat(90));
    expect([status, body.title]).toStrictEqual([507, expect.stringMatching(/^There is not enough space on the disk/)]);
    expect(left(service)).toStrictEqual([]);
  });
});

/** `23:59:10.500` */
function clock(seconds: number): string {
  return new Date(Math.round(seconds * 1000)).toISOString().slice(11, 23);
}
