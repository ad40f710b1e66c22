import { type ChildProcess, spawn } from 'node:child_process';
import { existsSync, mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';

/** Also from a bench, which is built itself. */
const BUILT = import.meta.url.includes('/.build/') ? '../../' : '../../.build/';
export const PROGRAM = fileURLToPath(new URL(`${BUILT}server/main.js`, import.meta.url));
/** What the first line of the program starts it with: `#!/usr/bin/env -S VARIABLE=value … node --option …`. */
export function startedWith(): { readonly variables: Record<string, string>; readonly nodeOptions: readonly string[] } {
  if (!existsSync(PROGRAM)) throw new Error('The service is not built. Run: npm run build');
  const words = readFileSync(PROGRAM, 'utf8').split('\n', 1)[0]!.split(' ').slice(2);
  const node = words.indexOf('node');
  const variables = Object.fromEntries(words.slice(0, node).map((word) => word.split('=')));
  return { variables, nodeOptions: words.slice(node + 1) };
}

/** Certificates that a machine adds for other programs cost 4 MB. */
const NOT_OURS = { NODE_EXTRA_CA_CERTS: undefined };

export interface Reply {
  readonly status: number;
  readonly type: string;
  // biome-ignore lint/suspicious/noExplicitAny: what came is what the test examines
  readonly body: any;
}

export interface RunningService {
  readonly address: string;
  readonly dataFolder: string;
  readonly process: ChildProcess;
  /** What it has printed so far. */
  output(): string;
  get<T>(path: string): Promise<T>;
  send(method: string, path: string, body?: unknown, headers?: Readonly<Record<string, string>>): Promise<Reply>;
  /** An orderly stop; gives the exit code. */
  stop(signal?: 'SIGTERM' | 'SIGINT' | 'SIGHUP'): Promise<number | null>;
  /** The hard way, as a power cut would. */
  kill(): Promise<void>;
  /** Stop and delete the record. */
  remove(): Promise<void>;
}

export interface ServiceOptions {
  readonly source?: string;
  readonly dataFolder?: string;
  readonly port?: number;
  readonly args?: readonly string[];
  readonly env?: Readonly<Record<string, string>>;
}

export const newDataFolder = (): string => mkdtempSync(join(tmpdir(), 'strandward-test-'));

/** Services that were started and have not been ended: a test that fails must not leave one behind. */
const running = new Set<ChildProcess>();
process.on('exit', () => {
  for (const child of running) child.kill('SIGKILL');
});

export function launch(args: readonly string[], env: Readonly<Record<string, string>> = {}) {
  const { variables, nodeOptions } = startedWith();
  const child = spawn(process.execPath, [...nodeOptions, PROGRAM, ...args], {
    stdio: ['ignore', 'pipe', 'pipe'],
    // Examples take seconds of processor time, which hardly any test needs.
    env: { ...process.env, ...NOT_OURS, ...variables, TZ: 'UTC', STRANDWARD_EXAMPLES: 'off', ...env },
  });
  running.add(child);
  let printed = '';
  let complained = '';
  child.stdout.on('data', (chunk: Buffer) => {
    printed += chunk.toString();
  });
  child.stderr.on('data', (chunk: Buffer) => {
    complained += chunk.toString();
  });
  const ended = new Promise<number | null>((resolve) =>
    child.once('close', (code) => {
      running.delete(child);
      resolve(code);
    }),
  );
  return { child, ended, printed: () => printed, complained: () => complained };
}

/** Runs the service with arguments that it is expected to refuse; returns its output and its exit code. */
export async function runToEnd(
  args: readonly string[],
  env?: Readonly<Record<string, string>>,
): Promise<{ readonly exitCode: number | null; readonly printed: string; readonly complained: string }> {
  const { child, ended, printed, complained } = launch(args, env);
  const tooLong = setTimeout(() => child.kill('SIGKILL'), 60_000);
  const exitCode = await ended;
  clearTimeout(tooLong);
  return { exitCode, printed: printed(), complained: complained() };
}

/** Runs the built service as a user does, on any free port of this machine. */
export async function startService(options: ServiceOptions = {}): Promise<RunningService> {
  const dataFolder = options.dataFolder ?? newDataFolder();
  const source = options.source === undefined ? [] : ['--source', options.source];
  const args = ['--port', String(options.port ?? 0), '--data', dataFolder, ...source, ...(options.args ?? [])];
  const { child, ended, printed, complained } = launch(args, options.env);
  const output = () => printed() + complained();
  const address = await addressOf(output, ended).catch((thrown: unknown) => {
    // No one else would stop it.
    child.kill('SIGKILL');
    throw thrown;
  });

  const end = async (signal: NodeJS.Signals) => {
    if (child.exitCode === null && child.signalCode === null) child.kill(signal);
    return ended;
  };
  return {
    address,
    dataFolder,
    process: child,
    output,
    get: async <T>(path: string) => {
      const reply = await fetch(address + path);
      if (!reply.ok) throw new Error(`GET ${path}: ${reply.status} ${await reply.text()}`);
      return (await reply.json()) as T;
    },
    send: async (method, path, body, headers = {}) => {
      const json = body === undefined ? {} : { 'content-type': 'application/json' };
      const reply = await fetch(address + path, {
        method,
        headers: { ...json, ...headers },
        ...(body === undefined ? {} : { body: typeof body === 'string' ? body : JSON.stringify(body) }),
      });
      const text = await reply.text();
      const type = reply.headers.get('content-type') ?? '';
      return { status: reply.status, type, body: /json/.test(type) && text !== '' ? JSON.parse(text) : text };
    },
    stop: (signal = 'SIGTERM') => end(signal),
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
  const deadline = Date.now() + 30_000;
  while (Date.now() < deadline) {
    const address = /Open (http:\/\/\S+)/.exec(printed())?.[1];
    if (address !== undefined) return address;
    if (exitCode !== undefined) throw new Error(`The service ended with ${exitCode}:\n${printed()}`);
    await new Promise((resolve) => setTimeout(resolve, 20));
  }
  throw new Error(`The service printed no address within 30 s:\n${printed()}`);
}

/** Asks again and again until the answer satisfies; fails with the last answer. */
export async function until<T>(
  ask: () => T | Promise<T>,
  satisfied: (answer: T) => boolean,
  what: string,
  withinMs = 15_000,
): Promise<T> {
  const deadline = Date.now() + withinMs;
  let last: T | undefined;
  while (Date.now() < deadline) {
    last = await ask();
    if (satisfied(last)) return last;
    await new Promise((resolve) => setTimeout(resolve, 30));
  }
  throw new Error(`Not within ${withinMs} ms: ${what}. Last answer: ${JSON.stringify(last)?.slice(0, 2000)}`);
}
