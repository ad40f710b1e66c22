/** What the service refuses to start with: one clear message that names the fault and the remedy, and an exit code. */

import { mkdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { createServer, type Server } from 'node:net';
import { join } from 'node:path';
import { afterEach, describe, expect, test, vi } from 'vitest';
import type { LiveState } from '../../server/api/contract/live-state.ts';
import { casesOf, IS_LONG_CHECK } from '../long-check.ts';
import { newDataFolder, type RunningService, runToEnd, startService, until } from './running-service.ts';

// Starting a process is slow on a busy machine; required speeds are measured separately.
vi.setConfig({ testTimeout: 60_000, hookTimeout: 120_000 });

const folders: string[] = [];
let service: RunningService | null = null;
let server: Server | null = null;
const folder = () => {
  const made = newDataFolder();
  folders.push(made);
  return made;
};
afterEach(async () => {
  await service?.remove();
  service = null;
  server?.close();
  server = null;
  for (const one of folders.splice(0)) rmSync(one, { recursive: true, force: true });
});

/** Two lines on the error output, nothing else: what is wrong, what to do. */
async function refuses(
  args: readonly string[],
  exitCode: number,
  what: RegExp,
  remedy: RegExp,
  env?: Readonly<Record<string, string>>,
): Promise<void> {
  const ended = await runToEnd(args, env);
  expect(ended.complained).toMatch(what);
  expect(ended.complained).toMatch(remedy);
  expect(ended.complained).toMatch(/^strandward: /);
  expect(ended.complained).not.toMatch(/\n\s+at /);
  expect(ended.complained.trim().split('\n')).toHaveLength(2);
  expect(ended.printed).not.toMatch(/Open http/);
  expect(ended.exitCode).toBe(exitCode);
}

describe('the command line', () => {
  test.each(
    casesOf(
      [
        ['an unknown option', ['--colour', 'blue'], /--colour/, /--help/],
        ['a command that there is not', ['start'], /no command “start”/, /--help/],
        ['a port that is not a number', ['--port', 'eighty'], /“eighty” is not a port number/, /0 to 65535/],
        ['a port that is too large', ['--port', '70000'], /70000/, /65535/],
        ['an unknown log level', ['--log', 'loud'], /“loud”/, /debug, info/],
        ['an option without its value', ['--port'], /port/, /--help/],
      ],
      2,
    ),
  )('%s: exit code 2', async (_what, args, what, remedy) => {
    await refuses(args, 2, what, remedy);
  });

  test.each(
    casesOf(
      [
        ['an unknown scenario', 'simulator:volcano', /volcano/, /steady/],
        ['an unknown kind of source', 'carrier-pigeon', /carrier-pigeon/, /serial:PATH/],
        ['a scheme that there is none', 'ftp:here', /“ftp”/, /tcp:HOST:PORT/],
        ['a network address without a port', 'tcp:bench', /“bench”/, /port/],
        ['a pace that is none', 'simulator:steady?pace=quick', /quick/, /max/],
        ['an option that the source has not', 'simulator:steady?colour=blue', /colour/, /seed, pace, rate/],
      ],
      1,
    ),
  )('%s: exit code 2, and no record is created', async (_what, source, what, remedy) => {
    await refuses(['--port', '0', '--data', folder(), '--source', source], 2, what, remedy);
  });

  test.skipIf(!IS_LONG_CHECK)('a missing recorded file: exit code 3', async () => {
    const file = join(folder(), 'night.log');
    await refuses(['--port', '0', '--data', folder(), '--source', `file:${file}`], 3, /night\.log/, /path/);
  });

  test('--help lists every option and exits with 0', async () => {
    const { exitCode, printed, complained } = await runToEnd(['--help']);
    expect(exitCode).toBe(0);
    expect(complained).toBe('');
    for (const option of ['--source', '--data', '--host', '--port', '--access-key', '--log']) {
      expect(printed).toContain(option);
    }
    expect(printed).toMatch(/not a safety device/);
  });
});

describe('the port', () => {
  test('in use by another program: exit code 3', async () => {
    server = createServer();
    await new Promise<void>((resolve) => server!.listen(0, '127.0.0.1', resolve));
    const { port } = server.address() as { port: number };
    await refuses(
      ['--port', String(port), '--data', folder(), '--source', 'simulator:steady'],
      3,
      new RegExp(`Port ${port} on 127.0.0.1 is in use`),
      /--port/,
    );
  });
});

describe('the record', () => {
  test.each(
    casesOf(
      [
        ['missing', 'MODULE_NOT_FOUND', 'Cannot find it.'],
        ['made for another Node', 'ERR_DLOPEN_FAILED', 'It was compiled for another version.\\nDetails'],
      ],
      1,
    ),
  )('an engine of SQLite that is %s: exit code 4, and how to install it', async (_what, code, text) => {
    const fails = `const load = process.dlopen;
      process.dlopen = (module, path, ...flags) => {
        if (!path.includes('better_sqlite3')) return load(module, path, ...flags);
        throw Object.assign(new Error('${text}'), { code: '${code}' });
      };`;
    const env = { NODE_OPTIONS: `--import=data:text/javascript,${encodeURIComponent(fails)}` };
    const remedy = /npm rebuild better-sqlite3 with this Node/;
    await refuses(
      ['--data', folder(), '--source', 'simulator:steady'],
      4,
      /SQLite engine cannot be loaded/,
      remedy,
      env,
    );
  });

  test('a file that is not a database: exit code 6, and the file stays unchanged', async () => {
    const at = folder();
    const file = join(at, 'strandward.sqlite');
    writeFileSync(file, 'this is a shopping list\n'.repeat(500));
    const before = readFileSync(file);
    await refuses(
      ['--port', '0', '--data', at, '--source', 'simulator:steady'],
      6,
      /strandward\.sqlite/,
      /Nothing was deleted/,
    );
    expect(readFileSync(file).equals(before)).toBe(true);
  });

  test.skipIf(!IS_LONG_CHECK)('a truncated database: exit code 6', async () => {
    service = await startService({ source: 'simulator:steady' });
    const at = service.dataFolder;
    folders.push(at);
    await service.get('/health');
    expect(await service.stop()).toBe(0);
    service = null;
    const file = join(at, 'strandward.sqlite');
    const whole = readFileSync(file);
    writeFileSync(file, whole.subarray(0, Math.floor(whole.length / 2)));
    await refuses(['--port', '0', '--data', at], 6, /is damaged/, /backup/);
  });

  test.skipIf(!IS_LONG_CHECK)(
    'a second service on the same folder: exit code 4, and the first one continues',
    async () => {
      service = await startService({ source: 'simulator:steady' });
      await refuses(
        ['--port', '0', '--data', service.dataFolder],
        4,
        /already in use by another Strandward/,
        /Stop that one/,
      );
      expect((await service.send('GET', '/health')).body).toEqual({ status: 'ok', recording: true });
    },
  );

  test.skipIf(!IS_LONG_CHECK)('a data folder that is a file', async () => {
    const file = join(folder(), 'taken');
    writeFileSync(file, '');
    await refuses(['--port', '0', '--data', file], 4, /taken/, /[Ff]older/);
  });

  test.skipIf(!IS_LONG_CHECK)('a database that is a folder', async () => {
    const at = folder();
    mkdirSync(join(at, 'strandward.sqlite'));
    await refuses(['--port', '0', '--data', at], 4, /is not a file/, /Move it away/);
  });
});

describe('a source', () => {
  test('cannot be chosen from a folder that is not there, and the start says so', async () => {
    service = await startService({ args: ['--recordings', '/no/such/folder'] });
    await until(service.output, (said) => /from \/no\/such\/folder .*no such file/.test(said), 'a warning');
  });

  test('that is unknown is refused, one that is not there is explained, and neither stops the service', async () => {
    service = await startService();
    for (const source of ['carrier-pigeon:7', 'simulator:no-such-scenario', 'tcp:127.0.0.1']) {
      const reply = await service.send('PUT', '/api/settings', { source });
      expect([source, reply.body]).toEqual([
        source,
        expect.objectContaining({ code: 'bad-setting', pointer: '/source', status: 400 }),
      ]);
    }
    expect((await service.send('GET', '/api/settings')).body.settings.source).toBe('');

    for (const [source, text] of [
      ['serial:/dev/ttyNONE', /ttyNONE/],
      ['tcp:127.0.0.1:9', /127\.0\.0\.1/],
    ] as const) {
      expect((await service.send('PUT', '/api/settings', { source })).status).toBe(200);
      const state = await until(
        () => service!.get<LiveState>('/api/state'),
        (s) => text.test(s.link.text) && s.link.phase !== 'opening',
        'words about the source',
      );
      expect(['waiting', 'ended']).toContain(state.link.phase);
      expect(state.link.text).toMatch(/annot open|refused|not there|no such|does not exist/i);
      expect(state.sentence.length).toBeGreaterThan(10);
    }
  });
});
