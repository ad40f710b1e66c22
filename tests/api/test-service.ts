import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { pino } from 'pino';
import { startApi } from '../../server/api/server.ts';
import { CutDesk } from '../../server/monitor/cut-desk.ts';
import { HouseDesk } from '../../server/monitor/house-desk.ts';
import { LengthDesk } from '../../server/monitor/length-desk.ts';
import { LineMonitor } from '../../server/monitor/line-monitor.ts';
import { PrinterDesk } from '../../server/monitor/printer-desk.ts';
import { RecordingDesk } from '../../server/monitor/recording-desk.ts';
import { SectionDesk } from '../../server/monitor/section-desk.ts';
import { SpoolAnalyst } from '../../server/monitor/spool-analyst.ts';
import { SteadyClock } from '../../server/monitor/steady-clock.ts';
import { Notifier } from '../../server/notify/notifier.ts';
import { readTrace } from '../../server/notify/picture/read-trace.ts';
import { recordingRoom } from '../../server/recording/recording-thread.ts';
import { checkLineSettings, defaultLineSettings } from '../../server/settings/check-line-settings.ts';
import type { LineSettings } from '../../server/settings/line-settings.ts';
import { openSource } from '../../server/source/open-source.ts';
import type { Source } from '../../server/source/source.ts';
import { UnusableSource } from '../../server/source/unusable-source.ts';
import { openStore, type Store } from '../../server/store/index.ts';

export interface TestService {
  readonly monitor: LineMonitor;
  readonly store: Store;
  readonly notifier: Notifier;
  readonly address: string;
  get<T>(path: string): Promise<T>;
  /** Whatever the status. */
  send(method: string, path: string, body?: unknown): Promise<{ status: number; body: unknown }>;
  bytes(path: string): Promise<{ status: number; headers: Headers; bytes: Uint8Array }>;
  stop(): Promise<void>;
}

/** The service in this process: a real database in a folder of its own, a real socket, no part left out. */
export async function startTestService(
  source: string | Source,
  settings: Partial<LineSettings> = {},
): Promise<TestService> {
  const folder = mkdtempSync(join(tmpdir(), 'strandward-api-'));
  const silent = { info: () => {}, warn: () => {}, error: () => {} };
  const steady = new SteadyClock();
  const clock = () => steady.nowMs();
  const store = openStore({ folder });
  const { keeper, reader, spoolWords: words } = store;
  const monitor = new LineMonitor({
    clock: steady,
    log: silent,
    keeper,
    reader,
    samples: store.samples,
    flushSamples: (nowMs) => store.tick(nowMs),
    openSource: (address) => (typeof source === 'string' ? openSource(address, clock) : source),
    unusableSource: (problem) => new UnusableSource(problem),
    settings: checkLineSettings(settings, defaultLineSettings()),
    fixedSource: typeof source === 'string' ? source : 'scripted',
    timeZone: 'Europe/Vienna',
  });
  const house = new HouseDesk({
    house: store.house,
    keeper,
    clock,
    log: silent,
    settings: () => monitor.settings,
    backupFolder: join(folder, 'backups'),
    scheduled: false,
  });
  const desk = new SectionDesk({
    keeper,
    reader,
    clock,
    woundMm: (spool) => monitor.woundMm(spool),
    measured: (runId) => monitor.measuredSections(runId),
    changed: (runId) => monitor.sectionsStated(runId),
  });
  const analyst = new SpoolAnalyst({
    reader,
    samples: store.columns,
    words,
    settings: () => monitor.settings,
    woundMm: (spool) => monitor.woundMm(spool),
    measured: (runId) => monitor.measuredSections(runId),
  });
  const notifier = new Notifier({
    store: store.people,
    clock,
    log: silent,
    timeZone: 'Europe/Vienna',
    line: () => {
      const { settings, run, link, sentence, loudness, stage } = monitor.snapshot();
      const live = link.timing === 'live';
      return { name: settings.lineName, runId: run?.id ?? null, live, sentence, loudness, stage: stage.stage };
    },
    trace: (of) => readTrace(of, { reader: store.reader, samples: store.columns, limits: () => monitor.settings }),
    alarms: () => monitor.alarms.standing(),
    alarm: (id) => monitor.alarms.find(id),
    acknowledge: (id, name) => monitor.alarms.acknowledge(id, { name, from: 'a link in a message' }),
    tell: (what, who) => keeper.log({ timeMs: clock(), runId: null, who, what }),
  });
  monitor.subscribe({ alarms: (changes) => notifier.alarms(changes) });
  notifier.start();
  const recordings = new RecordingDesk({
    room: recordingRoom(),
    house: store.house,
    keeper,
    clock,
    log: silent,
    settings: () => monitor.settings,
    timeZone: 'Europe/Vienna',
  });
  const api = await startApi({
    monitor,
    people: notifier,
    desk,
    printers: new PrinterDesk({ keeper, words, clock, settings: () => monitor.settings }),
    cuts: new CutDesk({ keeper, words, clock }),
    lengths: new LengthDesk({ keeper, reader, words, clock }),
    analyst,
    house,
    archives: store.house,
    recordings,
    keeper,
    reader,
    samples: store.columns,
    clock,
    boot: 'test',
    sourceFixed: true,
    listSerialPorts: async () => [],
    access: { accessKey: null, host: '127.0.0.1' },
    port: 0,
    pageFolder: join(folder, 'no-page'),
    logger: pino({ level: 'silent' }),
  });
  const { address } = api;
  return {
    monitor,
    store,
    notifier,
    address,
    get: async <T>(path: string) => {
      const reply = await fetch(address + path);
      const text = await reply.text();
      if (!reply.ok) throw new Error(`GET ${path}: ${reply.status} ${text}`);
      return JSON.parse(text) as T;
    },
    send: async (method, path, body) => {
      const reply = await fetch(address + path, {
        method,
        ...(body === undefined ? {} : { body: JSON.stringify(body), headers: { 'content-type': 'application/json' } }),
      });
      const text = await reply.text();
      return { status: reply.status, body: text === '' ? null : JSON.parse(text) };
    },
    bytes: async (path) => {
      const reply = await fetch(address + path);
      return { status: reply.status, headers: reply.headers, bytes: new Uint8Array(await reply.arrayBuffer()) };
    },
    stop: async () => {
      await api.stop();
      await recordings.stop();
      await analyst.stop();
      await monitor.stop();
      await notifier.stop();
      await store.close();
      rmSync(folder, { recursive: true, force: true });
    },
  };
}

/** Winds with the simulated line as fast as it goes, and takes the spool off after so much strand. */
export async function woundBySimulator(scenario: string, leastMm: number): Promise<TestService> {
  const service = await startTestService(`simulator:${scenario}&pace=max`);
  const { monitor } = service;
  await new Promise<void>((resolve) => {
    const unsubscribe = monitor.subscribe({
      reading: () => {
        const { spool } = monitor.snapshot();
        if (spool === null || monitor.woundMm(spool) < leastMm) return;
        unsubscribe();
        monitor.setStage('stopped', 'test');
        resolve();
      },
    });
    monitor.start();
  });
  await monitor.stop();
  return service;
}

/** Winds reading lines that a test made up; the winding begins with the first of them. */
export async function woundFromLines(
  lines: Iterable<string>,
  settings: Partial<LineSettings> = {},
  pieceBytes = 16_384,
): Promise<TestService> {
  const bytes = Buffer.from([...lines].map((line) => `${line}\n`).join(''), 'latin1');
  let ended: () => void = () => {};
  const over = new Promise<void>((resolve) => {
    ended = resolve;
  });
  const source: Source = {
    title: 'lines of a test',
    timing: 'recorded',
    resumable: false,
    start(listener) {
      listener.opened();
      listener.status({ phase: 'open', words: 'Reading.' });
      setImmediate(() => {
        for (let at = 0; at < bytes.length; at += pieceBytes) listener.bytes(bytes.subarray(at, at + pieceBytes), null);
        listener.status({ phase: 'ended', words: 'Over.' });
        ended();
      });
    },
    stop: async () => {},
  };
  const service = await startTestService(source, { gaugeToWinderMm: 0, ...settings });
  service.monitor.setStage('winding', 'test');
  service.monitor.start();
  await over;
  await service.monitor.stop();
  return service;
}
