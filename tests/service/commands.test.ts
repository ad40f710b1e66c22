/** The built program: each command does its work and ends, and the options of before still do. */

import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { existsSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, expect, test, vi } from 'vitest';
import { casesOf, IS_LONG_CHECK } from '../long-check.ts';
import {
  newDataFolder,
  PROGRAM,
  type RunningService,
  runToEnd,
  startedWith,
  startService,
  until,
} from './running-service.ts';

vi.setConfig({ testTimeout: 90_000, hookTimeout: 120_000 });

const { version, scripts } = JSON.parse(readFileSync('package.json', 'utf8'));

const folders: string[] = [];
const folder = () => {
  const made = newDataFolder();
  folders.push(made);
  return made;
};
let service: RunningService | null = null;
afterEach(async () => {
  await service?.remove();
  service = null;
  for (const one of folders.splice(0)) rmSync(one, { recursive: true, force: true });
});

test('npm start starts Node with the options of the first line of the program', () => {
  expect(scripts.start.split(' && node ')[1]).toBe([...startedWith().nodeOptions, '.build/server/main.js'].join(' '));
});

test('--version states the version of package.json', async () => {
  expect(await runToEnd(['--version'])).toStrictEqual({ exitCode: 0, printed: `${version}\n`, complained: '' });
});

test('each command explains itself', async () => {
  const commands = casesOf(
    ['watch', 'pair', 'import', 'backup', 'restore', 'doctor', 'install-service', 'simulate'],
    2,
  );
  const ended = await Promise.all(commands.map((command) => runToEnd([command, '--help'])));
  for (const [i, { exitCode, printed, complained }] of ended.entries()) {
    expect([exitCode, complained]).toStrictEqual([0, '']);
    expect(printed).toMatch(new RegExp(`^ {2}strandward \\[?${commands[i]}`, 'm'));
  }
});

test.skipIf(!IS_LONG_CHECK)(
  'backup copies a record that is not in use, and refuses while a service is running',
  async () => {
    const dataFolder = folder();
    const backupFolder = join(folder(), 'made');
    const none = await runToEnd(['backup', '--data', dataFolder]);
    expect(none.exitCode).toBe(4);
    expect(none.complained).toMatch(/There is no database .*\nCheck the data folder/);
    expect(readdirSync(dataFolder)).toStrictEqual([]);

    service = await startService({ source: 'simulator:evening?pace=20', dataFolder });
    await until(
      () => service!.get<{ run: { id: number } | null }>('/api/state'),
      ({ run }) => run !== null,
      'a run has begun',
    );
    const refused = await runToEnd(['backup', backupFolder, '--data', dataFolder]);
    expect(refused.exitCode).toBe(4);
    expect(refused.complained).toMatch(/already in use by another Strandward/);
    expect(refused.complained).toMatch(/on its page Set-up, with the button “Make a backup”/);
    expect(existsSync(backupFolder)).toBe(false);
    const runs = await service.get<{ id: number }[]>('/api/runs');
    await service.stop();

    const made = await runToEnd(['backup', backupFolder, '--data', dataFolder]);
    expect(made).toMatchObject({ exitCode: 0, complained: '' });
    const path = /: (\S+\.sqlite)\n$/.exec(made.printed)![1]!;
    expect(readdirSync(backupFolder)).toStrictEqual([path.slice(backupFolder.length + 1)]);

    const elsewhere = folder();
    expect(await runToEnd(['restore', path, '--data', elsewhere])).toMatchObject({ exitCode: 0, complained: '' });
    service = await startService({ source: 'simulator:steady', dataFolder: elsewhere });
    const restored = await service.get<{ id: number }[]>('/api/runs');
    expect(restored.map(({ id }) => id)).toEqual(expect.arrayContaining(runs.map(({ id }) => id)));
  },
);

test.skipIf(!IS_LONG_CHECK)('backup deletes no older backup', async () => {
  const dataFolder = folder();
  service = await startService({ source: 'simulator:steady', dataFolder });
  await service.stop();
  const backupFolder = folder();
  const older = Array.from(
    { length: 40 },
    (_, i) => `strandward-2026-01-01T00-00-${String(i).padStart(2, '0')}Z.sqlite`,
  );
  for (const name of older) writeFileSync(join(backupFolder, name), '');
  const { exitCode } = await runToEnd(['backup', '--data', dataFolder], { STRANDWARD_BACKUP: backupFolder });
  expect(exitCode).toBe(0);
  expect(readdirSync(backupFolder)).toEqual(expect.arrayContaining(older));
  expect(readdirSync(backupFolder)).toHaveLength(older.length + 1);
});

test.skipIf(!IS_LONG_CHECK)(
  'the old options --take-in and --restore still work, and state what to use now',
  async () => {
    const dataFolder = folder();
    const log = join(folder(), 'night.log');
    const lines = await runToEnd(['simulate', '--scenario', 'steady', '--pace', 'max', '--duration', '60']);
    writeFileSync(log, lines.printed);
    const taken = await runToEnd(['--data', dataFolder, '--take-in', log, '--started', '2031-01-01T20:00']);
    expect(taken).toMatchObject({ exitCode: 0, printed: `Imported ${log} as run 1.\n` });
    // Where it takes its time, lines about how far it is come after that.
    const [advice] = taken.complained.split('\n');
    expect(advice).toBe(`strandward: --take-in is now a command. Next time: strandward import ${log}`);
    const made = await runToEnd(['backup', '--data', dataFolder]);
    const path = /: (\S+\.sqlite)\n$/.exec(made.printed)![1]!;
    const restored = await runToEnd(['--restore', path], { STRANDWARD_DATA: dataFolder });
    expect(restored.exitCode).toBe(0);
    expect(restored.printed).toMatch(/^Restored .*\nThe record that was there is kept as /);
    expect(restored.complained).toBe(`strandward: --restore is now a command. Next time: strandward restore ${path}\n`);
  },
);

test('simulate sends reading lines, and ends with its own exit codes', async () => {
  const sent = await runToEnd(['simulate', '--pace', 'max', '--duration', '1']);
  expect(sent).toMatchObject({ exitCode: 0, complained: '' });
  expect(sent.printed.match(/ d=/g)).toHaveLength(50);
  const refused = await runToEnd(['simulate', '--pace', 'fast']);
  expect(refused).toMatchObject({ exitCode: 2, printed: '' });
  expect(refused.complained).toMatch(/^"fast" is not a valid value for --pace\. .*\n$/);
});

test('the log is plain text on a terminal and JSON in a pipe; the API states the same version', async () => {
  service = await startService({ source: 'simulator:steady' });
  expect(await service.get('/openapi.json')).toMatchObject({ info: { version } });
  const reading = await until(
    () =>
      service!
        .output()
        .split('\n')
        .find((line) => line.includes('Reading from')),
    (line) => line !== undefined,
    'a line of the log',
  );
  expect(JSON.parse(reading!)).toMatchObject({ level: 30, msg: expect.stringMatching(/^Reading from/) });

  const command = `${process.execPath} ${PROGRAM} --port 0 --data ${folder()} --source simulator:steady`;
  const terminal = spawn('socat', ['-u', `EXEC:"${command}",pty,ctty,setsid`, 'STDOUT']);
  try {
    let shown = '';
    terminal.stdout.on('data', (bytes: Buffer) => {
      shown += bytes.toString();
    });
    await until(
      () => shown,
      (text) => text.includes('Open http') && text.includes('Reading from'),
      'the service tells its address',
    );
    expect(shown).toMatch(/^\d{4}-\d\d-\d\d \d\d:\d\d:\d\d {2}Reading from the simulator/m);
    expect(shown).not.toContain('"msg"');
  } finally {
    // Closing its terminal stops the service.
    const closed = once(terminal, 'close');
    terminal.kill('SIGTERM');
    await closed;
  }
});
