/** What is asked for on the command line, and what is refused. */

import { describe, expect, test } from 'vitest';
import { readCommandLine } from '../../server/command/command-line.ts';
import { Problem } from '../../server/problem/problem.ts';

const read = (line: string, env = {}) => readCommandLine(line.split(' ').filter(Boolean), env);
const asked = (line: string, env = {}) => read(line, env).request;

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
  test('without a command, and with `watch`, the line is watched', () => {
    const request = asked('--port 0 --data record');
    expect(request).toMatchObject({ kind: 'watch', settings: { port: 0, dataFolder: 'record', host: '127.0.0.1' } });
    expect(asked('watch --port 0 --data record')).toStrictEqual(request);
    expect(asked('')).toMatchObject({ kind: 'watch', settings: { port: 8750, dataFolder: '.data' } });
  });

  test('import takes a file, and what the file does not tell', () => {
    expect(asked('import night.log')).toStrictEqual({
      kind: 'import',
      dataFolder: '.data',
      file: 'night.log',
      startMs: null,
      rateHz: null,
    });
    expect(asked('import --started 2026-11-24T20:15Z --rate 50 night.log --data record')).toMatchObject({
      file: 'night.log',
      dataFolder: 'record',
      startMs: Date.UTC(2026, 10, 24, 20, 15),
      rateHz: 50,
    });
  });

  test('restore takes a file', () => {
    const env = { STRANDWARD_DATA: '/data' };
    expect(asked('restore b.sqlite', env)).toStrictEqual({ kind: 'restore', dataFolder: '/data', backup: 'b.sqlite' });
  });

  test('backup goes where it is told, else where the environment says, else beside the record', () => {
    const env = { STRANDWARD_BACKUP: '/backups' };
    expect(asked('backup /stick', env)).toMatchObject({ kind: 'backup', backupFolder: '/stick' });
    expect(asked('backup', env)).toMatchObject({ backupFolder: '/backups', dataFolder: '.data' });
    expect(asked('backup --data record')).toMatchObject({ backupFolder: 'record/backups', dataFolder: 'record' });
  });

  test('simulate hands its arguments on as they are', () => {
    expect(asked('simulate --list')).toStrictEqual({ kind: 'simulate', args: ['--list'] });
    expect(asked('simulate --help')).toStrictEqual({ kind: 'simulate', args: ['--help'] });
  });

  test('an option wins over the environment', () => {
    const env = { STRANDWARD_PORT: '1', STRANDWARD_ACCESS_KEY: 'a key that is long enough', STRANDWARD_LOG: '' };
    expect(asked('watch --port 2', env)).toMatchObject({
      settings: { port: 2, accessKey: env.STRANDWARD_ACCESS_KEY, logLevel: 'info' },
    });
  });
});

describe('help', () => {
  test.each(commands)('%s --help names the command and each of its options', (command) => {
    const { text } = asked(`${command} --help`) as { text: string };
    expect(text).toMatch(new RegExp(`^ {2}strandward \\[?${command}`, 'm'));
    expect(text).toContain('--data FOLDER');
    expect(asked(`${command} -h`)).toStrictEqual({ kind: 'print', text });
  });

  test('--help lists every command', () => {
    const { text } = asked('--help') as { text: string };
    for (const command of [...commands, 'simulate']) expect(text).toMatch(new RegExp(`^ {2}${command}\\b`, 'm'));
    expect(text).toContain('--version');
  });

  test('help is given even where something else is missing', () => {
    expect(asked('--port 80 --help').kind).toBe('print');
    expect(asked('import --rate 5 --help').kind).toBe('print');
  });
});

describe('wrong use is refused with exit code 2', () => {
  test.each([
    ['paint', 'There is no command “paint”.', /watch, import, backup, restore, simulate/],
    ['constructor', 'There is no command “constructor”.', /--help/],
    ['import', 'The command import needs the path of a file.', /strandward import --help/],
    ['import a.log b.log', "Unexpected argument 'b.log'.", /strandward import --help/],
    ['import a.log --port 80', "Unknown option '--port'.", /strandward import --help/],
    ['import a.log --rate often', '“often” is no rate.', /0\.1 to 1000/],
    ['import a.log --started now', '“now” is no date and time.', /2026-11-24T20:15/],
    ['restore', 'The command restore needs the path of a file.', /strandward restore --help/],
    ['restore a.sqlite --rate 5', "Unknown option '--rate'.", /strandward restore --help/],
    ['backup /a /b', "Unexpected argument '/b'.", /strandward backup --help/],
    ['backup --backup /a', "Unknown option '--backup'.", /strandward backup --help/],
    ['watch restore a.sqlite', "Unexpected argument 'restore'.", /strandward watch --help/],
    ['--data record restore', "Unexpected argument 'restore'.", /strandward watch --help/],
    ['watch --restore a.sqlite', "Unknown option '--restore'.", /strandward watch --help/],
    ['--rate 50', "Unknown option '--rate'.", /strandward watch --help/],
    ['--take-in', "Option '--take-in <value>' argument missing.", /--help/],
    ['--restore=', 'The command restore needs the path of a file.', /strandward restore --help/],
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
    expect(line.request).toStrictEqual(asked(now));
    expect(line.advice).toContain(advice);
    expect(line.advice).toMatch(/Next time: strandward (restore b\.sqlite|import n\.log)$/);
    expect(read(now).advice).toBeNull();
  });

  test('a file whose name begins with a hyphen is no option', () => {
    expect(asked('--restore=-odd.sqlite')).toMatchObject({ kind: 'restore', backup: '-odd.sqlite' });
  });
});
