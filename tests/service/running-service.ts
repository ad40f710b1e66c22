import { type ChildProcess, spawn } from 'node:child_process';
import { existsSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';

const PROGRAM = fileURLToPath(new URL('../../.build/server/main.js', import.meta.url));

export interface RunningService {
  readonly address: string;
  readonly dataFolder: string;
  readonly process: ChildProcess;
  /** What it has printed so far. */
  output(): string;
  get<T>(path: string): Promise<T>;
  send(method: string, path: string, body?: unknown): Promise<{ status: number; body: unknown }>;
  /** An orderly stop; gives the exit code. */
  stop(): Promise<number | null>;
  /** The hard way, as a power cut would. */
  kill(): Promise<void>;
  /** Stop and delete the record. */
  remove(): Promise<void>;
}

export interface ServiceOptions {
  readonly source?: string;
  readonly dataFolder?: string;
  readonly args?: readonly string[];
  readonly env?: Readonly<Record<string, string>>;
}

export const newDataFolder = (): string => mkdtempSync(join(tmpdir(), 'strandward-test-'));

/** Runs the built service as a user does, on any free port of this machine. */
export async function startService(options: ServiceOptions = {}): Promise<RunningService> {
  if (!existsSync(PROGRAM)) throw new Error('The service is not built. Run: npm run build');
  const dataFolder = options.dataFolder ?? newDataFolder();
  const source = options.source === undefined ? [] : ['--source', options.source];
  const args = [PROGRAM, '--port', '0', '--data', dataFolder, ...source, ...(options.args ?? [])];
  const child = spawn(process.execPath, args, {
    stdio: ['ignore', 'pipe', 'pipe'],
    env: { ...process.env, TZ: 'UTC', ...options.env },
  });
  let printed = '';
  const take = (chunk: Buffer) => {
    printed += chunk.toString();
  };
  child.stdout.on('data', take);
  child.stderr.on('data', take);
  const ended = new Promise<number | null>((resolve) => child.once('exit', resolve));
  const address = await addressOf(() => printed, ended);

  const end = async (signal: NodeJS.Signals) => {
    if (child.exitCode === null && child.signalCode === null) child.kill(signal);
    return ended;
  };
  return {
    address,
    dataFolder,
    process: child,
    output: () => printed,
    get: async <T>(path: string) => {
      const reply = await fetch(address + path);
      if (!reply.ok) throw new Error(`GET ${path}: ${reply.status} ${await reply.text()}`);
      return (await reply.json()) as T;
    },
    send: async (method, path, body) => {
      const reply = await fetch(address + path, {
        method,
        ...(body === undefined ? {} : { body: JSON.stringify(body), headers: { 'content-type': 'application/json' } }),
      });
      const text = await reply.text();
      return { status: reply.status, body: text === '' ? null : JSON.parse(text) };
    },
    stop: () => end('SIGTERM'),
    kill: async () => {
      await end('SIGKILL');
    },
    remove: async () => {
      await end('SIGTERM');
      rmSync(dataFolder, { recursive: true, force: true });
    },
  };
}

async function addressOf(printed: () => string, ended: Promise<number | null>): Promise<string> {
  let exitCode: number | null | undefined;
  void ended.then((code) => {
    exitCode = code;
  });
  const deadline = Date.now() + 15_000;
  while (Date.now() < deadline) {
    const address = /Open (http:\/\/\S+)/.exec(printed())?.[1];
    if (address !== undefined) return address;
    if (exitCode !== undefined) throw new Error(`The service ended with ${exitCode}:\n${printed()}`);
    await new Promise((resolve) => setTimeout(resolve, 20));
  }
  throw new Error(`The service printed no address within 15 s:\n${printed()}`);
}

/** Asks again and again until the answer satisfies; fails with the last answer. */
export async function until<T>(
  ask: () => Promise<T>,
  satisfied: (answer: T) => boolean,
  what: string,
  withinMs = 15_000,
): Promise<T> {
  const deadline = Date.now() + withinMs;
  let last: T | undefined;
  while (Date.now() < deadline) {
    last = await ask();
    if (satisfied(last)) return last;
    await new Promise((resolve) => setTimeout(resolve, 50));
  }
  throw new Error(`Not within ${withinMs} ms: ${what}. Last answer: ${JSON.stringify(last)?.slice(0, 2000)}`);
}
