/**
 * Every address of the API: its response, and its refusal of bad input. A scripted network board winds strand with one
 * blob; all requests are about that line.
 */

import type { TSchema } from 'typebox';
import { Value } from 'typebox/value';
import { afterAll, beforeAll, describe, expect, test, vi } from 'vitest';
import { AlarmView } from '../../server/api/contract/alarms.ts';
import type { SpoolJudgement } from '../../server/api/contract/judgement.ts';
import { LiveState } from '../../server/api/contract/live-state.ts';
import { ProblemView } from '../../server/api/contract/problem.ts';
import {
  LiveSpool,
  RunDetail,
  RunView,
  SectionView,
  SpoolDetail,
  WindowView,
} from '../../server/api/contract/runs-and-spools.ts';
import { LineSettings } from '../../server/settings/line-settings.ts';
import { type Reply, type RunningService, startService, until } from './running-service.ts';
import { ScriptedBoard } from './scripted-board.ts';

// Starting a process is slow on a busy machine; required speeds are measured separately.
vi.setConfig({ testTimeout: 60_000, hookTimeout: 120_000 });

let board: ScriptedBoard;
let service: RunningService;
let runId: number;
let spoolId: number;
let blobId: string;
const BLOB_MM = 30;
const GRACE = { 'strandward-by': 'Grace' };
let alarmId: number;

const get = (path: string) => service.send('GET', path);
const state = () => service.get<LiveState>('/api/state');

/** The response matches the contract. */
function answers(reply: Reply, schema: TSchema, status = 200): void {
  expect(reply.status, JSON.stringify(reply.body).slice(0, 500)).toBe(status);
  expect(reply.type).toMatch(/^application\/json/);
  expect([...Value.Errors(schema, reply.body)].map((e) => `${e.instancePath} ${e.message}`)).toEqual([]);
}

/** The refusal follows RFC 9457: media type, type, title, status and detail, one clear sentence each. */
function refuses(reply: Reply, status: number, code: string, title: RegExp): void {
  expect(reply.status, JSON.stringify(reply.body)).toBe(status);
  // RFC 9457, section 3: "application/problem+json"
  expect(reply.type).toMatch(/^application\/problem\+json/);
  expect(Value.Check(ProblemView, reply.body)).toBe(true);
  expect(reply.body).toMatchObject({ type: `urn:strandward:problem:${code}`, status });
  expect(reply.body.title).toMatch(title);
  expect(reply.body.detail.length).toBeGreaterThan(8);
  // No wording of the schema checker, no stack, no path of the program.
  expect(`${reply.body.title} ${reply.body.detail}`).not.toMatch(/must have|instancePath|node_modules|\.ts:|undefined/);
}

beforeAll(async () => {
  board = await new ScriptedBoard().start();
  service = await startService({ source: board.source });
  await service.send('PUT', '/api/settings', { gaugeToWinderMm: 200 });
  await until(state, (s) => s.now.diameterMm !== null && s.link.phase === 'open', 'readings');
  expect((await service.send('POST', '/api/stage', { stage: 'winding' })).status).toBe(200);
  await new Promise((resolve) => setTimeout(resolve, 300));
  board.stretch(BLOB_MM, 2.05);
  const done = await until(
    state,
    (s) => s.sections.some((one) => one.kind === 'blob' && !one.open && one.toSpoolMm! < s.spool!.woundMm),
    'a blob on the spool',
  );
  runId = done.run!.id;
  spoolId = done.spool!.id;
  blobId = done.sections.find((one) => one.kind === 'blob')!.id;
  alarmId = done.alarms.find((one) => one.type === 'blob')!.id;
});
afterAll(async () => {
  await service?.remove();
  await board?.stop();
});

describe('responses match the contract:', () => {
  test('the live state', async () => {
    const reply = await get('/api/state');
    answers(reply, LiveState);
    expect(reply.body).toMatchObject({ run: { id: runId }, spool: { id: spoolId }, stage: { stage: 'winding' } });
  });

  test('alarms, acknowledged one by one and all at once', async () => {
    const all = await get('/api/alarms');
    expect(all.status).toBe(200);
    for (const alarm of all.body) expect(Value.Check(AlarmView, alarm)).toBe(true);
    const reply = await service.send('POST', `/api/alarms/${alarmId}/acknowledge`, undefined, {
      'strandward-by': 'Grace',
    });
    answers(reply, AlarmView);
    expect(reply.body).toMatchObject({ id: alarmId, acknowledgedBy: 'Grace' });
    const suppression = await service.send('POST', '/api/alarms/acknowledge-all');
    expect(suppression.status).toBe(200);
    expect((await get('/api/alarms')).body.every((one: AlarmView) => one.acknowledgedMs !== null)).toBe(true);
  });

  test('runs, one run, its note', async () => {
    const list = await get('/api/runs');
    expect(list.status).toBe(200);
    expect(list.body.map((run: RunView) => run.id)).toEqual([runId]);
    answers(await get(`/api/runs/${runId}`), RunDetail);
    const noted = await service.send('PUT', `/api/runs/${runId}/note`, { note: 'blue, dried 4 h' }, GRACE);
    answers(noted, RunView);
    const detail = await service.get<RunDetail>(`/api/runs/${runId}`);
    expect(detail.run.note).toBe('blue, dried 4 h');
    expect(detail.log[0]).toMatchObject({ who: 'Grace', what: `Wrote the note of run ${runId}.` });
  });

  test('a window by time and by length, with the blob as its maximum at any resolution', async () => {
    const { extent } = await service.get<RunDetail>(`/api/runs/${runId}`);
    for (const axis of ['time', 'length'] as const) {
      const [from, to] =
        axis === 'time' ? [extent!.fromMs, extent!.toMs + 1] : [extent!.fromGaugeMm, extent!.toGaugeMm + 1];
      for (const columns of [1, 7, 4000]) {
        const reply = await get(
          `/api/runs/${runId}/window?axis=${axis}&from=${from}&to=${to}&columns=${columns}&signals=d,t1,nosuch`,
        );
        answers(reply, WindowView);
        const { count, signals } = reply.body as WindowView;
        expect(count).toHaveLength(columns);
        expect(count.reduce((a, b) => a + b)).toBe(extent!.count);
        const largest = Math.max(...signals.d!.max.filter((value) => value !== null));
        expect(largest).toBeGreaterThan(2.04);
        expect(largest).toBeLessThan(2.06);
        expect(signals.nosuch!.max.every((value) => value === null)).toBe(true);
      }
    }
  });

  test('a spool', async () => {
    const reply = await get(`/api/spools/${spoolId}`);
    answers(reply, SpoolDetail);
    const detail = reply.body as SpoolDetail;
    expect(detail.sections.map((one) => one.id)).toContain(blobId);
    // π/4 · d² · 1.24 g/cm³: 2.98 g a metre at 1.75 mm, 4.09 at the blob's 2.05 mm (formula only); the blob is a small part.
    const judgement = () => service.get<SpoolJudgement>(`/api/spools/${spoolId}/judgement`);
    const { mass, woundMm } = await until(judgement, (one) => one.woundMm > 20 * BLOB_MM, 'much more than the blob');
    const gPerM = mass.grams / (woundMm / 1000);
    expect(gPerM).toBeGreaterThan(2.97);
    expect(gPerM).toBeLessThan(3.2);
  });

  test('a section is added, adjusted, removed and restored; what was measured is never lost', async () => {
    const base = `/api/spools/${spoolId}/sections`;
    const { sections } = await service.get<SpoolDetail>(`/api/spools/${spoolId}`);
    const measured = sections.find((one) => one.id === blobId)!;
    const added = await service.send('POST', base, { fromSpoolMm: 5, toSpoolMm: 25, verdict: 'doubtful' });
    answers(added, SectionView, 201);
    expect(added.body).toMatchObject({ origin: 'user', kind: 'marked', fromSpoolMm: 5, toSpoolMm: 25 });
    const moved = await service.send('PUT', `${base}/${added.body.id}`, {
      fromSpoolMm: 6,
      toSpoolMm: 30,
      verdict: 'discard',
      note: 'a seam',
    });
    answers(moved, SectionView);
    expect(moved.body).toMatchObject({ fromSpoolMm: 6, toSpoolMm: 30, verdict: 'discard', note: 'a seam' });
    expect((await service.send('DELETE', `${base}/${moved.body.id}`)).status).toBe(204);

    const adjusted = await service.send('PUT', `${base}/${blobId}`, {
      fromSpoolMm: measured.fromSpoolMm! - 4,
      toSpoolMm: measured.toSpoolMm! + 4,
      verdict: 'discard',
    });
    answers(adjusted, SectionView);
    expect(adjusted.body).toMatchObject({ id: blobId, origin: 'adjusted', peakMm: measured.peakMm });
    expect((await service.send('DELETE', `${base}/${blobId}`)).status).toBe(204);
    const without = await service.get<SpoolDetail>(`/api/spools/${spoolId}`);
    expect(without.sections.filter((one) => one.kind === 'blob' || one.kind === 'marked')).toEqual([]);
    expect(without.spool.discardMm).toBe(0);
    const restored = await service.send('POST', `${base}/${blobId}/restore`);
    answers(restored, SectionView);
    expect(restored.body).toMatchObject({
      id: blobId,
      fromSpoolMm: measured.fromSpoolMm,
      toSpoolMm: measured.toSpoolMm,
      verdict: 'discard',
    });
  });

  test('settings, with their schema', async () => {
    const reply = await get('/api/settings');
    expect(reply.status).toBe(200);
    expect(Value.Check(LineSettings, reply.body.settings)).toBe(true);
    expect(reply.body.sourceFixed).toBe(true);
    expect(reply.body.scenarios).toContain('damp-feed');
    expect(reply.body.schema.properties.hotendLimitMm).toMatchObject({ type: 'number', default: 1.9 });
    const source = 'tcp:127.0.0.1:9';
    const saved = await service.send('PUT', '/api/settings', { lineName: 'Bench by the window', source });
    const { sourceInUse } = reply.body;
    expect(sourceInUse).not.toBe(source);
    // Kept, but not used, because another source was set at the start.
    expect(saved).toMatchObject({
      status: 200,
      body: {
        settings: { lineName: 'Bench by the window', gaugeToWinderMm: 200, source },
        sourceFixed: true,
        sourceInUse,
      },
    });
    expect((await state()).lineName).toBe('Bench by the window');
    await service.send('PUT', '/api/settings', { source: reply.body.settings.source });
  });

  test('serial ports, log, health', async () => {
    const ports = await get('/api/serial-ports');
    expect(ports.status).toBe(200);
    expect(Array.isArray(ports.body)).toBe(true);
    const log = await get('/api/log?limit=3');
    expect(log.status).toBe(200);
    expect(log.body).toHaveLength(3);
    expect(log.body[0].timeMs).toBeGreaterThanOrEqual(log.body[2].timeMs);
    expect(await get('/health')).toMatchObject({ status: 200, body: { status: 'ok', recording: true } });
  });

  test('a stage set by a user, and automatic stages again', async () => {
    for (const stage of ['winding', null] as const) {
      const reply = await service.send('POST', '/api/stage', { stage });
      answers(reply, LiveState.properties.stage);
      expect(reply.body).toMatchObject({ stage: 'winding', setByUser: stage !== null });
    }
  });

  test('a spool change: the next spool starts where the first one ends', async () => {
    const reply = await service.send('POST', '/api/spools/change', undefined, GRACE);
    answers(reply, LiveSpool);
    expect(reply.body).toMatchObject({ runId, ordinal: 2 });
    const { spools } = await service.get<RunDetail>(`/api/runs/${runId}`);
    const first = spools.find((one) => one.id === spoolId)!;
    expect(first.startGaugeMm + first.woundMm).toBeCloseTo(reply.body.startGaugeMm, 0);
  });

  test('the page at each of its addresses, with a policy that blocks content of other sites', async () => {
    for (const path of ['/', '/spool', `/runs/${runId}`, '/set-up']) {
      const reply = await fetch(service.address + path);
      expect(reply.status).toBe(200);
      expect(reply.headers.get('content-type')).toMatch(/text\/html/);
      const policy = reply.headers.get('content-security-policy') ?? '';
      expect(policy).toMatch(/default-src 'self'|default-src 'none'/);
      expect(policy).not.toMatch(/unsafe-eval|script-src[^;]*unsafe-inline|\*/);
    }
  });
});

describe('bad input gets one clear error', () => {
  test.each([
    ['GET', '/api/runs/999', 'unknown-run', /run 999/],
    ['GET', '/api/runs/999/window?axis=time&from=0&to=1&signals=d', 'unknown-run', /run 999/],
    ['PUT', '/api/runs/999/note', 'unknown-run', /run 999/, { note: '' }],
    ['GET', '/api/spools/999', 'unknown-spool', /spool 999/],
    [
      'POST',
      '/api/spools/999/sections',
      'unknown-spool',
      /spool 999/,
      { fromSpoolMm: 0, toSpoolMm: 1, verdict: 'good' },
    ],
    ['DELETE', '/api/spools/1/sections/m999', 'unknown-section', /m999/],
    ['DELETE', '/api/spools/1/sections/p999', 'unknown-section', /p999/],
    ['POST', '/api/spools/1/sections/p999/restore', 'unknown-section', /p999/],
    [
      'PUT',
      '/api/spools/1/sections/m999',
      'unknown-section',
      /m999/,
      { fromSpoolMm: 0, toSpoolMm: 1, verdict: 'good' },
    ],
    ['POST', '/api/alarms/999/acknowledge', 'unknown-alarm', /999/],
    ['GET', '/api/nothing', 'not-found', /GET \/api\/nothing/],
    ['DELETE', '/', 'not-found', /DELETE/],
    ['GET', '/favicon.ico', 'not-found', /favicon/],
  ] as const)('%s %s is not there: 404', async (method, path, code, title, body?: object) => {
    refuses(await service.send(method, path, body), 404, code, title);
  });

  test.each([
    ['a run that is no number', 'GET', '/api/runs/abc', undefined, /id/],
    ['a negative run', 'GET', '/api/runs/-1', undefined, /id/],
    ['a section that is no section', 'DELETE', '/api/spools/1/sections/x1', undefined, /section/],
    ['an unknown stage', 'POST', '/api/stage', { stage: 'flying' }, /stage/],
    ['no stage', 'POST', '/api/stage', {}, /stage/],
    ['something more than a stage', 'POST', '/api/stage', { stage: 'winding', speed: 9 }, /speed/],
    ['no body', 'POST', '/api/stage', undefined, /body/],
    ['malformed JSON', 'POST', '/api/stage', '{"stage":', /JSON/],
    ['an unknown axis', 'GET', '/api/runs/1/window?axis=sideways&from=0&to=1&signals=d', undefined, /axis/],
    ['no axis', 'GET', '/api/runs/1/window?from=0&to=1&signals=d', undefined, /axis/],
    [
      'a window that ends before it begins',
      'GET',
      '/api/runs/1/window?axis=time&from=5&to=1&signals=d',
      undefined,
      /5.*1|1.*5/,
    ],
    ['no column', 'GET', '/api/runs/1/window?axis=time&from=0&to=1&signals=d&columns=0', undefined, /columns/],
    [
      'too many columns',
      'GET',
      '/api/runs/1/window?axis=time&from=0&to=1&signals=d&columns=4001',
      undefined,
      /columns/,
    ],
    ['a from that is no number', 'GET', '/api/runs/1/window?axis=time&from=now&to=1&signals=d', undefined, /from/],
    ['no signal', 'GET', '/api/runs/1/window?axis=time&from=0&to=1', undefined, /signals/],
    [
      'a verdict that there is none',
      'POST',
      '/api/spools/1/sections',
      { fromSpoolMm: 0, toSpoolMm: 1, verdict: 'so-so' },
      /verdict/,
    ],
    ['a section without an end', 'POST', '/api/spools/1/sections', { fromSpoolMm: 0, verdict: 'good' }, /toSpoolMm/],
    [
      'a position that is no number',
      'POST',
      '/api/spools/1/sections',
      { fromSpoolMm: 'here', toSpoolMm: 1, verdict: 'good' },
      /fromSpoolMm/,
    ],
    ['a log of nothing', 'GET', '/api/log?limit=0', undefined, /limit/],
    ['a note that is too long', 'PUT', '/api/runs/1/note', { note: 'x'.repeat(5001) }, /note/],
  ] as const)('%s: 400', async (_what, method, path, body, title) => {
    const code = /ends before it begins/.test(_what) ? 'bad-window' : 'bad-request';
    refuses(await service.send(method, path, body), 400, code, title);
  });

  test.each([
    ['it ends before it begins', { fromSpoolMm: 60, toSpoolMm: 20, verdict: 'discard' }, /0\.020 m.*0\.060 m/],
    ['it has no length', { fromSpoolMm: 20, toSpoolMm: 20, verdict: 'discard' }, /not after/],
    ['it begins before the spool', { fromSpoolMm: -50, toSpoolMm: 20, verdict: 'discard' }, /inner end/],
    ['it ends beyond the spool', { fromSpoolMm: 20, toSpoolMm: 9_000_000, verdict: 'discard' }, /9000\.000 m/],
  ])('refuses a section if %s: 422', async (_what, body, title) => {
    const before = await service.get<SpoolDetail>(`/api/spools/${spoolId}`);
    refuses(await service.send('POST', `/api/spools/${spoolId}/sections`, body), 422, 'bad-section', title);
    refuses(await service.send('PUT', `/api/spools/${spoolId}/sections/${blobId}`, body), 422, 'bad-section', title);
    expect((await service.get<SpoolDetail>(`/api/spools/${spoolId}`)).sections).toEqual(before.sections);
  });

  test.each([
    ['a name that there is none', { colour: 'blue' }, /colour/],
    ['a tolerance of nothing', { toleranceMm: 0 }, /toleranceMm/],
    ['a text for a number', { hotendLimitMm: 'wide' }, /hotendLimitMm/],
    ['limits in the wrong order', { hotendLimitMm: 1.7 }, /wrong order/],
    ['a role that there is none', { roles: [{ name: 'x', role: 'warp', factor: 1, offset: 0 }] }, /warp/],
    ['a factor of nothing', { roles: [{ name: 'x', role: 'd', factor: 0, offset: 0 }] }, /factor/],
    ['a list', [1, 2], /not a JSON object/],
  ])('refuses settings with %s, and changes none: 400', async (_what, body, title) => {
    const before = await get('/api/settings');
    refuses(await service.send('PUT', '/api/settings', body), 400, 'bad-setting', title);
    expect((await get('/api/settings')).body).toEqual(before.body);
  });

  test('an alarm that was acknowledged already: 409', async () => {
    const alarms = (await get('/api/alarms')).body as AlarmView[];
    const alarm = alarms.find(({ acknowledgedBy }) => acknowledgedBy === 'Grace');
    expect(alarm?.state).toBe('acknowledged');
    refuses(
      await service.send('POST', `/api/alarms/${alarm!.id}/acknowledge`),
      409,
      'wrong-state',
      /acknowledged by Grace/,
    );
  });

  test('a body that is too large, or of an unknown kind', async () => {
    const large = await service.send('PUT', '/api/runs/1/note', { note: 'x'.repeat(300_000) });
    expect(large.status).toBe(413);
    expect(large.type).toMatch(/^application\/problem\+json/);
    const xml = await service.send('POST', '/api/stage', '<stage/>', { 'content-type': 'application/xml' });
    expect(xml.status).toBe(415);
    expect(xml.type).toMatch(/^application\/problem\+json/);
  });

  test('a spool change while none is wound: 409', async () => {
    await service.send('POST', '/api/stage', { stage: 'purging' });
    refuses(await service.send('POST', '/api/spools/change'), 409, 'wrong-state', /No spool/);
  });

  test('the service continues to work and to watch after all that', async () => {
    expect(service.output()).not.toMatch(/"level":[56]0/);
    expect((await get('/health')).body).toEqual({ status: 'ok', recording: true });
    const before = await state();
    await until(state, (s) => s.link.readings > before.link.readings + 20, 'more readings');
  });
});

describe('the OpenAPI document', () => {
  interface Operation {
    readonly summary?: string;
    readonly responses: Record<string, object>;
    readonly parameters?: readonly { name: string; in: string; required?: boolean }[];
  }
  interface Document {
    readonly openapi: string;
    readonly info: { title: string; version: string; description: string };
    readonly paths: Record<string, Record<string, Operation>>;
    readonly components?: { schemas?: Record<string, unknown> };
  }

  test('is served, with version, info, paths and a response for each operation', async () => {
    const { status, body } = await get('/openapi.json');
    expect(status).toBe(200);
    const document = body as Document;
    // OpenAPI Specification 3.0/3.1, "Fixed fields": openapi, info (title, version) and paths.
    expect(document.openapi).toMatch(/^3\.[01]\.\d+$/);
    expect(document.info).toMatchObject({ title: 'Strandward', version: expect.any(String) });
    for (const [path, operations] of Object.entries(document.paths)) {
      expect(path.startsWith('/')).toBe(true);
      for (const operation of Object.values(operations)) {
        expect(operation.summary, path).toMatch(/\w{3}/);
        expect(Object.keys(operation.responses).length, path).toBeGreaterThan(0);
        // "Path Templating": each template expression must correspond to a path parameter.
        const named = [...path.matchAll(/\{(\w+)\}/g)].map((match) => match[1]);
        const given = (operation.parameters ?? []).filter((one) => one.in === 'path').map((one) => one.name);
        expect(given.toSorted(), path).toEqual(named.toSorted());
      }
    }
    // Every reference leads somewhere.
    const refs = [...JSON.stringify(document).matchAll(/"\$ref":"([^"]+)"/g)].map((match) => match[1]!);
    for (const ref of refs) {
      const target = ref
        .replace(/^#\//, '')
        .split('/')
        .reduce<unknown>((at, part) => (at as Record<string, unknown> | undefined)?.[part], document);
      expect(target, ref).toBeDefined();
    }
  });

  test('contains every address that these tests use', async () => {
    const { paths } = (await get('/openapi.json')).body as Document;
    const documented = Object.entries(paths).flatMap(([path, operations]) =>
      Object.keys(operations).map((method) => `${method.toUpperCase()} ${path}`),
    );
    expect(documented).toEqual(
      expect.arrayContaining([
        'GET /health',
        'GET /ready',
        'GET /api/state',
        'POST /api/stage',
        'POST /api/spools/change',
        'GET /api/alarms',
        'POST /api/alarms/{id}/acknowledge',
        'POST /api/alarms/acknowledge-all',
        'GET /api/runs',
        'GET /api/runs/{id}',
        'GET /api/runs/{id}/window',
        'PUT /api/runs/{id}/note',
        'GET /api/spools/{id}',
        'POST /api/spools/{id}/sections',
        'PUT /api/spools/{id}/sections/{section}',
        'DELETE /api/spools/{id}/sections/{section}',
        'POST /api/spools/{id}/sections/{section}/restore',
        'GET /api/settings',
        'PUT /api/settings',
        'GET /api/serial-ports',
        'GET /api/log',
      ]),
    );
  });
});
