import { rmSync } from 'node:fs';
import { join } from 'node:path';
import { pino } from 'pino';
import { assemble } from '../../server/assembly.ts';
import type { LineMonitor } from '../../server/monitor/line-monitor.ts';
import type { Notifier } from '../../server/notify/notifier.ts';
import { checkLineSettings, defaultLineSettings } from '../../server/settings/check-line-settings.ts';
import type { LineSettings } from '../../server/settings/line-settings.ts';
import type { StartupSettings } from '../../server/settings/startup-settings.ts';
import type { Source } from '../../server/source/source.ts';
import type { Store } from '../../server/store/index.ts';
import { newRecord } from '../store/new-record.ts';

export interface TestService {
  readonly monitor: LineMonitor;
  readonly store: Store;
  readonly notifier: Notifier;
  readonly address: string;
  /** Everything that works in the background, the monitor included. */
  start(): void;
  get<T>(path: string): Promise<T>;
  /** Returns every status, also errors. */
  send(
    method: string,
    path: string,
    body?: unknown,
    headers?: Readonly<Record<string, string>>,
  ): Promise<{ status: number; body: unknown }>;
  bytes(path: string): Promise<{ status: number; headers: Headers; bytes: Uint8Array }>;
  stop(): Promise<void>;
}

/** The complete service in this process, with a real database in a new folder and a real socket. */
export async function startTestService(
  source: string | Source,
  settings: Partial<LineSettings> = {},
  pageFolder?: string,
  accessKey: string | null = null,
  startup: Partial<StartupSettings> = {},
  settingsReset: readonly (keyof LineSettings)[] = [],
): Promise<TestService> {
  const folder = newRecord('strandward-api-');
  const silent = { info: () => {}, warn: () => {}, error: () => {} };
  const service = await assemble({
    startup: {
      dataFolder: folder,
      source: typeof source === 'string' ? source : 'scripted',
      recordingFolders: [],
      host: '127.0.0.1',
      port: 0,
      accessKey,
      backupFolder: null,
      logLevel: 'silent',
      https: null,
      trustedProxies: [],
      ...startup,
    },
    settings: () => ({
      settings: checkLineSettings(settings, defaultLineSettings()),
      reset: settingsReset,
      notice: null,
    }),
    timeZone: 'Europe/Vienna',
    boot: 'test',
    pageFolder: pageFolder ?? join(folder, 'no-page'),
    log: silent,
    logger: pino({ level: 'silent' }),
    ...(typeof source === 'string' ? {} : { source }),
    undoStopForMs: 0,
  });
  const { address, monitor, store, notifier, start } = service;
  return {
    start,
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
    send: async (method, path, body, headers = {}) => {
      const reply = await fetch(address + path, {
        method,
        headers: body === undefined ? headers : { ...headers, 'content-type': 'application/json' },
        ...(body === undefined ? {} : { body: JSON.stringify(body) }),
      });
      const text = await reply.text();
      return { status: reply.status, body: text === '' ? null : JSON.parse(text) };
    },
    bytes: async (path) => {
      const reply = await fetch(address + path);
      return { status: reply.status, headers: reply.headers, bytes: new Uint8Array(await reply.arrayBuffer()) };
    },
    stop: async () => {
      await service.stop();
      rmSync(folder, { recursive: true, force: true });
    },
  };
}

/** Winds with the simulated line at full speed, and stops after at least this much strand. */
export async function woundBySimulator(scenario: string, leastMm: number): Promise<TestService> {
  const service = await startTestService(`simulator:${scenario}&pace=max`);
  const { monitor } = service;
  let readings = 0;
  await new Promise<void>((resolve) => {
    const unsubscribe = monitor.subscribe({
      reading: () => {
        // A snapshot costs more than a reading.
        if (++readings % 20 !== 0) return;
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

/** A connected board that sends nothing. */
export const MUTE: Source = {
  title: 'a board that says nothing',
  timing: 'live',
  resumable: false,
  start(listener) {
    listener.opened();
    listener.status({ phase: 'open', text: 'Connected.' });
  },
  stop: async () => {},
};

/** A recorded source of reading lines, and when all of them have been sent. */
export function sourceOf(chunks: Iterable<Uint8Array>): { readonly source: Source; readonly over: Promise<void> } {
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
      listener.status({ phase: 'open', text: 'Reading.' });
      setImmediate(() => {
        for (const chunk of chunks) listener.bytes(chunk, null);
        listener.status({ phase: 'ended', text: 'Over.' });
        ended();
      });
    },
    stop: async () => {},
  };
  return { source, over };
}

/** Winds reading lines of a test; winding starts with the first one. */
export async function woundFromLines(
  lines: Iterable<string>,
  settings: Partial<LineSettings> = {},
  pieceBytes = 16_384,
): Promise<TestService> {
  const bytes = Buffer.from([...lines].map((line) => `${line}\n`).join(''), 'latin1');
  const chunks = Array.from({ length: Math.ceil(bytes.length / pieceBytes) }, (_, i) =>
    bytes.subarray(i * pieceBytes, (i + 1) * pieceBytes),
  );
  const { source, over } = sourceOf(chunks);
  const service = await startTestService(source, { gaugeToWinderMm: 0, ...settings });
  service.monitor.setStage('winding', 'test');
  service.monitor.start();
  await over;
  await service.monitor.stop();
  return service;
}
