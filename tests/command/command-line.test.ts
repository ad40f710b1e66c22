import { describe, expect, test } from 'vitest';
import { readCommandLine } from '../../server/command/command-line.ts';
import { Problem } from '../../server/problem/problem.ts';

const read = (line: string, env = {}) => readCommandLine(line.split(' ').filter(Boolean), env);
const requestOf = (line: string, env = {}) => read(line, env).request;

function refusal(line: string): { readonly what: string; readonly remedy: string; readonly exitCode: number } {
  try {
    read(line);
  } catch (thrown) {
    if (!(thrown instanceof Problem)) throw thrown;
    return { what: thrown.message, remedy: thrown.remedy, exitCode: thrown.exitCode };
  }
  throw new Error(`“${line}” was not refused.`);
}

const commands = ['watch', 'import', 'backup', 'restore'];

describe('commands', () => {
  test('watches the line with `watch`, and without a command', () => {
    const request = requestOf('--port 0 --data record');
    expect(request).toMatchObject({ kind: 'watch', settings: { port: 0, dataFolder: 'record', host: '127.0.0.1' } });
    expect(requestOf('watch --port 0 --data record')).toStrictEqual(request);
    expect(requestOf('')).toMatchObject({ kind: 'watch', settings: { port: 8750, dataFolder: '.data' } });
  });

  test('import takes a file, its start and its rate', () => {
    expect(requestOf('import night.log')).toStrictEqual({
      kind: 'import',
      dataFolder: '.data',
      file: 'night.log',
      startMs: null,
      rateHz: null,
    });
    expect(requestOf('import --started 2026-11-24T20:15Z --rate 50 night.log --data record')).toMatchObject({
      file: 'night.log',
      dataFolder: 'record',
      startMs: Date.UTC(2026, 10, 24, 20, 15),
      rateHz: 50,
    });
  });

  test('restore takes a file', () => {
    const env = { STRANDWARD_DATA: '/data' };
    expect(requestOf('restore b.sqlite', env)).toStrictEqual({
      kind: 'restore',
      dataFolder: '/data',
      backup: 'b.sqlite',
      withoutDamagedRuns: false,
    });
    expect(requestOf('restore b.sqlite --without-damaged-runs', env)).toMatchObject({ withoutDamagedRuns: true });
  });

  test('backup uses the given folder, else the environment, else a folder next to the record', () => {
    const env = { STRANDWARD_BACKUP: '/backups' };
    expect(requestOf('backup /stick', env)).toMatchObject({ kind: 'backup', backupFolder: '/stick' });
    expect(requestOf('backup', env)).toMatchObject({ backupFolder: '/backups', dataFolder: '.data' });
    expect(requestOf('backup --data record')).toMatchObject({ backupFolder: 'record/backups', dataFolder: 'record' });
  });

  test('simulate forwards its arguments unchanged', () => {
    expect(requestOf('simulate --list')).toStrictEqual({ kind: 'simulate', args: ['--list'] });
    expect(requestOf('simulate --help')).toStrictEqual({ kind: 'simulate', args: ['--help'] });
  });

  test('HTTPS comes from files or from the authority of the house, in its own or a shared folder', () => {
    const https = (line: string, env = {}) => (requestOf(line, env) as { settings: { https: unknown } }).settings.https;
    expect(https('')).toBeNull();
    expect(https('--https-cert a.pem --https-key b.pem')).toStrictEqual({
      kind: 'files',
      certFile: 'a.pem',
      keyFile: 'b.pem',
    });
    expect(https('--https own-ca --data /d')).toStrictEqual({ kind: 'own-ca', folder: '/d/authority' });
    const env = { STRANDWARD_HTTPS: 'own-ca', STRANDWARD_HTTPS_CA_FOLDER: '/house' };
    expect(https('', env)).toStrictEqual({ kind: 'own-ca', folder: '/house' });
  });

  test('trusted proxies are addresses or networks', () => {
    expect(requestOf('--trusted-proxy 127.0.0.1,172.18.0.0/16,fd00::/8')).toMatchObject({
      settings: { trustedProxies: ['127.0.0.1', '172.18.0.0/16', 'fd00::/8'] },
    });
    expect(requestOf('')).toMatchObject({ settings: { trustedProxies: [] } });
  });

  test('an option takes precedence over the environment', () => {
    const env = { STRANDWARD_PORT: '1', STRANDWARD_ACCESS_KEY: 'a key that is long enough', STRANDWARD_LOG: '' };
    expect(requestOf('watch --port 2', env)).toMatchObject({
      settings: { port: 2, accessKey: env.STRANDWARD_ACCESS_KEY, logLevel: 'info' },
    });
  });

  test('a first start adds examples unless they are switched off', () => {
    expect(requestOf('')).toMatchObject({ examples: true });
    expect(requestOf('--examples off')).toMatchObject({ examples: false });
    expect(requestOf('', { STRANDWARD_EXAMPLES: 'off' })).toMatchObject({ examples: false });
  });
});

describe('help', () => {
  test.each(commands)('%s --help names the command and each of its options', (command) => {
    const { text } = requestOf(`${command} --help`) as { text: string };
    expect(text).toMatch(new RegExp(`^ {2}strandward \\[?${command}`, 'm'));
    expect(text).toContain('--data FOLDER');
    expect(requestOf(`${command} -h`)).toStrictEqual({ kind: 'print', text });
  });

  test('--help lists every command', () => {
    const { text } = requestOf('--help') as { text: string };
    for (const command of [...commands, 'simulate']) expect(text).toMatch(new RegExp(`^ {2}${command}\\b`, 'm'));
    expect(text).toContain('--version');
  });

  test('--help works even if something else is missing', () => {
    expect(requestOf('--port 80 --help').kind).toBe('print');
    expect(requestOf('import --rate 5 --help').kind).toBe('print');
  });
});

describe('wrong use is refused with exit code 2', () => {
  test.each([
    [
      'paint',
      'There is no command “paint”.',
      /watch, pair, import, backup, restore, collect, doctor, install-service, simulate/,
    ],
    ['constructor', 'There is no command “constructor”.', /--help/],
    ['import', 'The command import needs the path to a file.', /strandward import --help/],
    ['import a.log b.log', 'Unexpected argument “b.log”.', /strandward import --help/],
    ['import a.log --port 80', 'Unknown option “--port”.', /strandward import --help/],
    ['import a.log --rate often', '“often” is not a valid rate.', /0\.1 to 1000/],
    ['import a.log --started now', '“now” is not a date and time.', /2026-11-24T20:15/],
    ['restore', 'The command restore needs the path to a file.', /strandward restore --help/],
    ['restore a.sqlite --rate 5', 'Unknown option “--rate”.', /strandward restore --help/],
    ['backup /a /b', 'Unexpected argument “/b”.', /strandward backup --help/],
    ['backup --backup /a', 'Unknown option “--backup”.', /strandward backup --help/],
    ['watch restore a.sqlite', 'Unexpected argument “restore”.', /strandward watch --help/],
    ['--data record restore', 'Unexpected argument “restore”.', /strandward watch --help/],
    ['watch --restore a.sqlite', 'Unknown option “--restore”.', /strandward watch --help/],
    ['--examples no', '“no” is neither on nor off.', /--examples on or off/],
    ['--https yes', '“--https yes” is not possible.', /own-ca/],
    ['--https own-ca --https-cert a', 'There are two certificates to choose from.', /either/],
    ['--https-cert a', '--https-cert is given without --https-key.', /both/],
    ['--https-key a', '--https-key is given without --https-cert.', /both/],
    ['--https-ca-folder a', '--https-ca-folder is given without --https own-ca.', /own-ca/],
    ['--trusted-proxy proxy', '“proxy” is not the address of a proxy.', /127\.0\.0\.1/],
    ['--trusted-proxy 10.0.0.0/33', '“10.0.0.0/33” is not the address of a proxy.', /--trusted-proxy/],
    ['--rate 50', 'Unknown option “--rate”.', /strandward watch --help/],
    ['--take-in', '--take-in needs a value.', /--help/],
    ['--access-key x', 'The access key has only 1 character.', /at least 12 characters/],
    ['--source --simulate', '--source needs a value.', /strandward watch --help/],
    ['--help=yes', '--help takes no value.', /strandward watch --help/],
    ['--restore=', 'The command restore needs the path to a file.', /strandward restore --help/],
  ])('%s', (line, what, remedy) => {
    expect(refusal(line)).toStrictEqual({ what, remedy: expect.stringMatching(remedy), exitCode: 2 });
  });
});

describe('options that have become commands', () => {
  test.each([
    ['--restore b.sqlite --data record', 'restore b.sqlite --data record', '--restore is now a command.'],
    ['--data=record --restore=b.sqlite', 'restore b.sqlite --data record', '--restore is now a command.'],
    ['--take-in n.log --rate 50', 'import n.log --rate 50', '--take-in is now a command.'],
    ['--started 2026-11-24T20:15 --take-in=n.log', 'import n.log --started 2026-11-24T20:15', '--take-in'],
    ['--port 80 --log warn --restore b.sqlite', 'restore b.sqlite', '--restore is now a command.'],
    ['--restore b.sqlite --help', 'restore --help', '--restore is now a command.'],
  ])('%s still means %s', (old, now, advice) => {
    const line = read(old);
    expect(line.request).toStrictEqual(requestOf(now));
    expect(line.advice).toContain(advice);
    expect(line.advice).toMatch(/Next time: strandward (restore b\.sqlite|import n\.log)$/);
    expect(read(now).advice).toBeNull();
  });

  test('accepts a file whose name begins with a hyphen', () => {
    expect(requestOf('--restore=-odd.sqlite')).toMatchObject({ kind: 'restore', backup: '-odd.sqlite' });
  });
});
