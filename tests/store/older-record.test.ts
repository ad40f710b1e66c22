/**
 * A whole record that the release before wrote, with something of everything that users enter: the current program carries
 * it forward, and it means the same. `records/layout-11` holds the data folder's database, a backup, an archive of its
 * first run, and what that release answered about them. The clock of the program is set to a minute after that release
 * was stopped, so that what was under way still is.
 */
import { mkdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { gunzipSync } from 'node:zlib';
import { afterAll, beforeAll, describe, expect, test, vi } from 'vitest';
import type { AlarmView } from '../../server/api/contract/alarms.ts';
import type { QuestionView } from '../../server/api/contract/answers.ts';
import type { CutPlanView } from '../../server/api/contract/cut-plan.ts';
import type { PeopleView } from '../../server/api/contract/people.ts';
import type { PrinterProfile } from '../../server/api/contract/printers.ts';
import { ARCHIVE_TYPE } from '../../server/api/contract/record.ts';
import type { RunDetail, RunView, SpoolDetail } from '../../server/api/contract/runs-and-spools.ts';
import { routeOf } from '../../server/entities/page-route.ts';
import { DATABASE_FILE } from '../../server/store/database.ts';
import { IS_LONG_CHECK } from '../long-check.ts';
import { HttpReceiver } from '../notify/http-receiver.ts';
import { newDataFolder, type RunningService, runToEnd, startService, until } from '../service/running-service.ts';
import { ScriptedBoard } from '../service/scripted-board.ts';

vi.setConfig({ testTimeout: 60_000, hookTimeout: 60_000 });

const RUN = 1;
const LIVE_RUN = 2;
const SPOOL = 1;

const fixture = (name: string) => gunzipSync(readFileSync(new URL(`./records/layout-11/${name}.gz`, import.meta.url)));

interface Before {
  readonly stoppedMs: number;
  /** From the message about the blob. */
  readonly link: string;
  readonly answers: Readonly<Record<string, unknown>>;
}
const before = JSON.parse(fixture('answers.json').toString('utf8')) as Before;

/** Texts that a release may word differently. */
const PROSE = new Set([
  'sentence',
  'reasons',
  'explanation',
  'warnings',
  'consequence',
  'caution',
  'landmark',
  'title',
]);
/** Fields that were renamed since; `alarms.what` = only within `alarms`. */
const RENAMED: Readonly<Record<string, string>> = {
  rest: 'suppression',
  words: 'text',
  letters: 'messages',
  deadLetters: 'failedMessages',
  'alarms.what': 'step',
  why: 'reason',
  'extent.channels': 'signals',
  'channels.kept': 'savedSecrets',
  whereTo: 'destination',
  offMm: 'cutOffMm',
  woundUnder: 'limitsWhenWound',
  guardBeforeMm: 'marginBeforeMm',
  guardAfterMm: 'marginAfterMm',
  givenUpMm: 'goodDiscardedMm',
  leastFeedableMm: 'smallestFeedableMm',
};
/** Values that were renamed since. */
const RENAMED_VALUES: Readonly<Record<string, string>> = { 'origin.person': 'user', 'fitness.cannotBeSaid': 'unknown' };

/** An answer without prose, with the names of today. @param parent name of the field that holds it */
function meaning(value: unknown, parent = ''): unknown {
  if (Array.isArray(value)) return value.map((one) => meaning(one, parent));
  if (typeof value === 'string') return RENAMED_VALUES[`${parent}.${value}`] ?? value;
  if (typeof value !== 'object' || value === null) return value;
  return Object.fromEntries(
    Object.entries(value)
      .filter(([name]) => !PROSE.has(name))
      .map(([name, inner]) => [RENAMED[`${parent}.${name}`] ?? RENAMED[name] ?? name, meaning(inner, name)]),
  );
}

/** What the release before answered, as the type of today. */
const then = <T>(path: string): T => {
  expect(Object.keys(before.answers)).toContain(path);
  return meaning(before.answers[path]) as T;
};

const pick = <T extends object, K extends keyof T>(from: T, ...names: readonly K[]) =>
  Object.fromEntries(names.map((name) => [name, from[name]]));

let board: ScriptedBoard;
let receiver: HttpReceiver;
const services: RunningService[] = [];
const folders: string[] = [];

function newFolder(): string {
  const folder = newDataFolder();
  folders.push(folder);
  return folder;
}

async function startOn(dataFolder: string): Promise<RunningService> {
  const aheadMs = Math.round(before.stoppedMs + 60_000 - Date.now());
  const clock = `const now = Date.now; Date.now = () => now() + ${aheadMs};`;
  const service = await startService({
    source: board.source,
    dataFolder,
    env: { NODE_OPTIONS: `--import=data:text/javascript,${encodeURIComponent(clock)}` },
  });
  services.push(service);
  return service;
}

beforeAll(async () => {
  board = await new ScriptedBoard().start();
  // Cold and at rest: a line that moves starts a run after two seconds, which ends the alarms about earlier strand.
  Object.assign(board.measured, { speedMmPerS: 0, temperatureC: 20, setpointC: 0 });
  receiver = await new HttpReceiver().start();
});
afterAll(async () => {
  for (const service of services) await service.stop();
  await board?.stop();
  await receiver?.stop();
  for (const folder of folders) rmSync(folder, { recursive: true, force: true });
});

describe('a record of the previous release', () => {
  let service: RunningService;
  let peopleAtStart: PeopleView;
  const now = async <T>(path: string) => meaning(await service.get<T>(path)) as T;

  beforeAll(async () => {
    const folder = newFolder();
    writeFileSync(join(folder, DATABASE_FILE), fixture('record.sqlite'));
    service = await startOn(folder);
    peopleAtStart = await now<PeopleView>('/api/people');
    // Repaired at once: half a minute without its channel, and the next person is notified too.
    const [channel] = peopleAtStart.channels;
    const settings = { kind: 'webhook', url: receiver.url, secret: '', template: '' };
    const changed = await service.send('PUT', `/api/channels/${channel!.id}`, { name: channel!.name, settings });
    expect(changed.status).toBe(200);
  });

  // First, because an alarm whose cause is gone returns after a minute.
  test('continues an escalation: the link in an old message answers its alarm', async () => {
    const [old] = then<AlarmView[]>('/api/alarms');
    const alarm = async () => (await now<AlarmView[]>('/api/alarms')).find(({ id }) => id === old!.id);
    expect(await alarm()).toMatchObject({ ...pick(old!, 'type', 'raisedMs', 'priority'), acknowledgedBy: null });
    const { pathname } = new URL(before.link);
    const route = routeOf(pathname);
    const address = `/api/answers/${route.page === 'answer' ? route.token : 'no token'}`;
    expect(await service.get<QuestionView>(address)).toMatchObject({ kind: 'alarm', names: ['Ada'], state: 'open' });
    const picture = await fetch(`${service.address}${address}/picture`);
    expect([picture.status, picture.headers.get('content-type')]).toStrictEqual([200, 'image/png']);
    const answered = await service.send('POST', address, { seenOccurrences: old!.occurrences });
    expect(answered.body).toMatchObject({ state: 'answered', answeredBy: 'Ada' });
    expect((await alarm())?.acknowledgedBy ?? 'Ada').toBe('Ada');
    await until(
      () => receiver.bodies.map(({ type, data }) => [type, data.alarm]),
      (bodies) => bodies.some(([type, id]) => type === 'strandward.acknowledged' && id === old!.id),
      'a message that the alarm was acknowledged',
    );
  });

  test('keeps the settings of the line, of alarm types and the printers', async () => {
    expect(await now('/api/settings')).toMatchObject(then<object>('/api/settings'));
    const types = (await now<{ changed: boolean }[]>('/api/alarm-types')).filter(({ changed }) => changed);
    const changed = then<{ firstCheck: string; onDelayS: number; priority: string }[]>('/api/alarm-types');
    expect(changed).toHaveLength(1);
    expect(types).toMatchObject(
      changed.map((type) => ({ type: 'strandLost', ...pick(type, 'firstCheck', 'onDelayS', 'priority') })),
    );
    expect(await now<PrinterProfile[]>('/api/printers')).toMatchObject(then<object[]>('/api/printers'));
  });

  test('keeps runs, spools and sections with their notes, material and stated verdicts', async () => {
    const run = ({ runs }: { runs: readonly RunView[] }) => runs.find(({ id }) => id === RUN)!;
    const fields = ['startedMs', 'endedMs', 'timeZone', 'sourceTitle', 'note', 'spools', 'woundMm'] as const;
    const [was, is] = [then<RunView[]>('/api/runs'), await now<RunView[]>('/api/runs')];
    expect(pick(run({ runs: is }), ...fields)).toStrictEqual(pick(run({ runs: was }), ...fields));
    expect(run({ runs: is }).lot).toStrictEqual({
      name: 'Lot 7',
      preparation: 'sieved, dried 6 h at 60 °C',
      values: {},
    });

    const [oldRun, newRun] = [then<RunDetail>(`/api/runs/${RUN}`), await now<RunDetail>(`/api/runs/${RUN}`)];
    expect(newRun.sections).toMatchObject(oldRun.sections);
    expect(newRun.extent).toStrictEqual(oldRun.extent);
    expect(newRun.alarms).toMatchObject(oldRun.alarms);

    const [oldSpool, newSpool] = [
      then<SpoolDetail>(`/api/spools/${SPOOL}`),
      await now<SpoolDetail>(`/api/spools/${SPOOL}`),
    ];
    const ofSpool = ['name', 'startGaugeMm', 'lengthFactor', 'woundMm', 'cutOffMm', 'printerName'] as const;
    const more = ['note', 'limits', 'limitsWhenWound', 'judgedBy'] as const;
    expect(pick(newSpool.spool, ...ofSpool, ...more)).toStrictEqual(pick(oldSpool.spool, ...ofSpool, ...more));
    // Choices since then that the release did not know have their usual value.
    expect(newSpool.spool.choices).toStrictEqual({ ...oldSpool.spool.choices, prints: [] });
    expect(newSpool.spool).toMatchObject({ lengthFactor: 0.993, note: 'Blue, for the bench.' });
    expect(newSpool.spool.verdict?.fitness).toBe(oldSpool.spool.verdict?.fitness);
    const stated = ({ sections }: SpoolDetail) => sections.filter(({ origin }) => origin !== 'measured');
    expect(stated(oldSpool).map(({ note }) => note)).toStrictEqual(['felt rough', 'passes, tried it']);
    expect(stated(newSpool)).toMatchObject(stated(oldSpool));
  });

  test('keeps choices, cuts and the name of a coil on the same strand', async () => {
    const path = `/api/spools/${SPOOL}/cut-plan`;
    const fields = ['choices', 'shortestMm', 'printer', 'fitness'] as const;
    const [old, is] = [then<CutPlanView>(path), await now<CutPlanView>(path)];
    expect(old).toMatchObject({ done: [{ action: 'keep', who: 'Ada' }], coils: [{ name: 'For the lamp' }] });
    expect(pick(is, ...fields)).toMatchObject(pick(old, ...fields));
    // That release took a lone low reading of 4 mm of strand for a thin spot in doubt.
    expect(is.totals).toMatchObject({ ...old.totals, goodDiscardedMm: expect.any(Number) });
    expect(is.totals.goodDiscardedMm - old.totals.goodDiscardedMm).toBeCloseTo(4, 0);
    const place = ['fromMm', 'toMm', 'fromOuterMm', 'toOuterMm'] as const;
    const cut = ({ done }: CutPlanView) => done.map((one) => pick(one, 'id', 'action', 'countedMm', 'who', ...place));
    const coils = (plan: CutPlanView) => plan.coils.map((coil) => pick(coil, 'name', 'named', 'state', ...place));
    const steps = (plan: CutPlanView) => plan.steps.map((step) => pick(step, 'action', 'countedMm', ...place));
    expect([cut(is), coils(is), steps(is)]).toStrictEqual([cut(old), coils(old), steps(old)]);
    // The release took less of the count's error into account when this coil was cut.
    expect([old.coils[0]?.condition, is.coils[0]?.condition]).toEqual(['clean', 'inDoubt']);
    expect(is.coils[0]?.repair?.leftMm).toBeGreaterThan(4500);
  });

  test('keeps people, channels with their secrets, rules and alarm tests', async () => {
    const [was, is] = [then<PeopleView>('/api/people'), peopleAtStart];
    expect(is.contacts).toMatchObject(was.contacts);
    expect(is.rules).toStrictEqual(was.rules);
    expect(is.pushKey).toBe(was.pushKey);
    const fields = ['id', 'name', 'kind', 'destination', 'settings', 'savedSecrets', 'lastDeliveredMs'] as const;
    expect(is.channels.map((one) => pick(one, ...fields))).toStrictEqual(
      // The release did not repeat the kind in the settings.
      was.channels.map((one) => ({ ...pick(one, ...fields), settings: { kind: one.kind, ...one.settings } })),
    );
    expect(is.drills).toMatchObject(was.drills);
    expect(is.recent).toMatchObject(was.recent);
    expect(is.failedMessages).toStrictEqual([]);
  });

  test('keeps the log and every step of every alarm', async () => {
    interface Line {
      timeMs: number;
      runId: number | null;
      who: string;
      what: string;
    }
    const log = await now<Line[]>('/api/log?limit=500');
    expect(log).toStrictEqual(expect.arrayContaining(then<Line[]>('/api/log?limit=500')));
    const path = '/api/alarm-journal?from=0&to=4000000000000';
    type Step = Record<'time' | 'run' | 'alarm' | 'type' | 'step' | 'state' | 'by' | 'from' | 'reason', unknown>;
    const fields = ['time', 'run', 'alarm', 'type', 'step', 'state', 'by', 'from', 'reason'] as const;
    const steps = (await now<Step[]>(path)).map((step) => pick(step, ...fields));
    const old = then<Step[]>(path).map((step) => pick(step, ...fields));
    expect(old.length).toBeGreaterThan(5);
    expect(steps).toStrictEqual(expect.arrayContaining(old));
  });

  test('keeps a silenced alarm with who silenced it, why and until when, and ends the silence on request', async () => {
    const [old] = then<AlarmView[]>('/api/alarms/resting');
    const { alarms } = await now<RunDetail>(`/api/runs/${LIVE_RUN}`);
    expect(alarms.find(({ step }) => step === 'shelved')?.alarm.suppression).toStrictEqual(old!.suppression);
    const suppressed = await now<AlarmView[]>('/api/alarms/suppressed');
    expect(suppressed.find(({ id }) => id === old!.id)).toMatchObject({
      type: 'neck',
      state: 'shelved',
      raisedMs: old!.raisedMs,
      suppression: { by: 'Kim', reason: 'known thin spot', untilMs: old!.suppression!.untilMs },
    });
    const ended = await service.send('POST', `/api/alarms/${old!.id}/unshelve`);
    expect([ended.status, ended.body.suppression]).toStrictEqual([200, null]);
  });

  test('delivers the message that waited, over the same channel', async () => {
    expect(peopleAtStart.channels.map(({ waiting }) => waiting)).toEqual([1]);
    const [message] = await until(
      () => receiver.bodies,
      (bodies) => bodies.length > 0,
      'the message that waited',
    );
    const [, waiting] = then<AlarmView[]>('/api/alarms');
    expect(message).toMatchObject({
      type: 'strandward.raised',
      data: { alarm: waiting!.id, link: expect.stringContaining('/answer/') },
    });
    // The key that signs messages was kept as well.
    expect(receiver.received[0]!.headers['webhook-signature']).toMatch(/^v1,/);
  });

  test('accepts the confirmation of an alarm test that the release before started', async () => {
    const [drill] = then<PeopleView>('/api/people').drills;
    const missing = drill!.people.find(({ confirmedMs }) => confirmedMs === null)!;
    const reply = await service.send('POST', `/api/drills/${drill!.id}/confirm`, { contactId: missing.contactId });
    expect(reply.status).toBe(204);
    expect((await now<PeopleView>('/api/people')).drills[0]).toMatchObject({ id: drill!.id, outcome: 'all' });
  });

  test.each([
    ['/spool/1', { page: 'spool', id: 1 }],
    ['/spool/1/label', { page: 'label', id: 1 }],
  ])('answers %s, an address on printed labels', async (path, route) => {
    const reply = await fetch(service.address + path);
    expect([reply.status, reply.headers.get('content-type')]).toStrictEqual([200, 'text/html; charset=utf-8']);
    expect(routeOf(path)).toStrictEqual(route);
    expect(await now<SpoolDetail>(`/api/spools/${SPOOL}`)).toMatchObject({ spool: { name: 'R1-1' } });
  });

  test('passes a check of the whole record', async () => {
    const { status, body } = await service.send('POST', '/api/record/check');
    expect([status, body.check.faults]).toStrictEqual([200, []]);
  });

  test('imports an archive that the release before wrote', async () => {
    const reply = await fetch(`${service.address}/api/runs/import?again=true`, {
      method: 'POST',
      headers: { 'content-type': ARCHIVE_TYPE },
      body: new Uint8Array(fixture('run.strandward-run')),
    });
    expect(reply.status).toBe(201);
    const { id } = (await reply.json()) as { id: number };
    const [was, is] = [then<RunDetail>(`/api/runs/${RUN}`), await now<RunDetail>(`/api/runs/${id}`)];
    expect(is.run).toMatchObject(pick(was.run, 'note', 'lot', 'startedMs', 'endedMs', 'woundMm'));
    expect(is.extent).toStrictEqual(was.extent);
    expect(is.sections.map((one) => pick(one, 'kind', 'fromSpoolMm', 'toSpoolMm', 'verdict', 'note'))).toStrictEqual(
      was.sections.map((one) => pick(one, 'kind', 'fromSpoolMm', 'toSpoolMm', 'verdict', 'note')),
    );
    const spool = is.spools[0]!.id;
    expect((await now<{ coils: unknown[] }>(`/api/spools/${spool}/cut-plan`)).coils[0]).toMatchObject({
      name: 'For the lamp',
      state: 'cut',
    });
  });
});

test.skipIf(!IS_LONG_CHECK)('restore takes a backup of the release before, and the service starts on it', async () => {
  const folder = newFolder();
  const backup = join(newFolder(), 'strandward-backup.sqlite');
  writeFileSync(backup, fixture('backup.sqlite'));
  const dataFolder = join(folder, 'restored');
  mkdirSync(dataFolder);
  const { exitCode, printed, complained } = await runToEnd(['restore', backup, '--data', dataFolder]);
  expect([exitCode, complained]).toStrictEqual([0, '']);
  expect(printed).toContain('Restored');
  const service = await startOn(dataFolder);
  const detail = meaning(await service.get<RunDetail>(`/api/runs/${RUN}`)) as RunDetail;
  const was = then<RunDetail>(`/api/runs/${RUN}`);
  expect(detail.sections).toMatchObject(was.sections);
  expect(detail.extent).toStrictEqual(was.extent);
  const suppressed = await service.get<AlarmView[]>('/api/alarms/suppressed');
  expect(suppressed).toMatchObject([{ state: 'shelved', suppression: { by: 'Kim', reason: 'known thin spot' } }]);
});
