import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { mkdir, readdir, readFile, writeFile } from 'node:fs/promises';
import { connect } from 'node:net';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { PassThrough } from 'node:stream';
import { fileURLToPath } from 'node:url';
import { ReadlineParser } from '@serialport/parser-readline';
import { SerialPort } from 'serialport';
import ts from 'typescript';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { runCommand } from '../../simulator/command/run.ts';
import { createSimulation, scenarioNames } from '../../simulator/index.ts';
import { linesOf, namedFields, readingsOf } from './readings.ts';

const root = fileURLToPath(new URL('../..', import.meta.url));
let folder: string;
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'simulator-'));
});
afterAll(() => rmSync(folder, { recursive: true }));

/** Compiles the simulator, file by file and without a type check, and tells where its command is. */
async function compile(into: string): Promise<string> {
  const files = (await readdir(join(root, 'simulator'), { recursive: true }))
    .filter((file) => file.endsWith('.ts') && !file.startsWith('microcontroller'))
    .map((file) => join('simulator', file));
  for (const file of [...files, 'server/reading/names.ts']) {
    const { outputText } = ts.transpileModule(await readFile(join(root, file), 'utf8'), {
      compilerOptions: {
        target: ts.ScriptTarget.ES2023,
        module: ts.ModuleKind.ESNext,
        verbatimModuleSyntax: true,
        rewriteRelativeImportExtensions: true,
      },
    });
    const target = join(into, file.replace(/\.ts$/, '.js'));
    await mkdir(dirname(target), { recursive: true });
    await writeFile(target, outputText);
  }
  await writeFile(join(into, 'package.json'), '{"type":"module"}');
  return join(into, 'simulator/main.js');
}

/** Runs the command in this process. */
function command(...args: string[]) {
  const stdout = new PassThrough();
  const stop = new AbortController();
  let out = '';
  let err = '';
  let onErr: () => void = () => {};
  stdout.on('data', (bytes: Buffer) => {
    out += bytes.toString('latin1');
  });
  const stderr = {
    write(text: string) {
      err += text;
      onErr();
    },
  };
  const code = runCommand(args, { stdout, stderr, stop: stop.signal });
  return {
    code,
    out: () => out,
    err: () => err,
    stop: () => stop.abort(),
    /** Kept once the command has told something on stderr. */
    told: () =>
      new Promise<string>((resolve) => {
        onErr = () => resolve(err);
        if (err !== '') resolve(err);
      }),
  };
}

describe('the command', () => {
  it('writes the bytes of the simulation to stdout, and the truth to a file', async () => {
    const truthFile = join(folder, 'truth.jsonl');
    const run = command(...'--scenario contaminant --seed 7 --pace max --duration 260 --truth'.split(' '), truthFile);
    expect(await run.code).toBe(0);
    const simulation = createSimulation({ scenario: 'contaminant', seed: 7 });
    expect(run.out()).toBe(simulation.advanceTo(260));
    const events = readFileSync(truthFile, 'utf8')
      .trim()
      .split('\n')
      .map((line) => JSON.parse(line));
    expect(events).toEqual(expect.arrayContaining(simulation.truth()));
    expect(events.length).toBe(simulation.truth().length);
    expect(run.err()).toBe('');
  });

  it('takes shape, rate, checksum and axes', async () => {
    const json = command(...'--pace max --duration 2 --shape json --rate 10'.split(' '));
    await json.code;
    expect(
      linesOf(json.out())
        .filter((line) => !line.startsWith('#'))
        .map((line) => JSON.parse(line)).length,
    ).toBe(20);
    const bare = command(...'--pace max --duration 1 --no-checksum --axes 2'.split(' '));
    await bare.code;
    expect(bare.out()).toMatch(/ dx=\d/);
    expect(bare.out()).not.toContain('*');
  });

  it('lists the scenarios and shows help', async () => {
    const list = command('--list');
    expect(await list.code).toBe(0);
    for (const name of scenarioNames) expect(list.out()).toMatch(new RegExp(`^${name} `, 'm'));
    const help = command('--help');
    expect(await help.code).toBe(0);
    for (const option of ['--scenario', '--seed', '--pace', '--to', '--truth', '--path'])
      expect(help.out()).toContain(option);
  });

  it.each([
    [['--colour', 'red'], "Unknown option '--colour'. --help shows all options."],
    [['evening'], "Unexpected argument 'evening'. --help shows all options."],
    [['--seed'], "Option '--seed <value>' argument missing. --help shows all options."],
    [['--scenario', 'dampfeed'], 'Unknown scenario "dampfeed"; known are evening, steady,'],
    [['--seed', '-1x'], '--seed'],
    [['--seed=1.5'], '--seed 1.5 does not do; give a whole number from 0'],
    [['--pace', 'fast'], '--pace fast does not do; give a number from 0.01 to 10000, or max.'],
    [['--pace=0'], '--pace 0 does not do'],
    [['--rate', '500'], '--rate 500 does not do; give a number from 0.1 to 200.'],
    [['--rate='], '--rate  does not do'],
    [['--duration', 'long'], '--duration long does not do'],
    [['--shape', 'xml'], '--shape xml is unknown; give one of named, json, columns.'],
    [['--axes', '3'], '--axes 3 is unknown; give one of 1, 2.'],
    [['--to', 'udp:5'], '--to udp:5 does not do; give stdout, tcp:PORT, tcp:HOST:PORT (port up to 65535) or pty:LINK.'],
    [['--to', 'tcp:70000'], '--to tcp:70000 does not do'],
    [['--checksum', '--no-checksum'], '--checksum and --no-checksum exclude each other; give one of them.'],
  ])('refuses %j with one clear line and exit code 2', async (args, message) => {
    const run = command(...args);
    expect(await run.code).toBe(2);
    expect(run.err()).toContain(message);
    expect(run.err().trim().split('\n').length).toBe(1);
    expect(run.out()).toBe('');
  });

  it('says what to do where the truth cannot be written', async () => {
    const run = command('--truth', join(folder, 'missing', 'truth.jsonl'));
    expect(await run.code).toBe(1);
    expect(run.err()).toContain('Give a path in a folder that exists.');
  });

  it('ends quietly when its reader goes away, and in order when it is told to', { timeout: 60_000 }, async () => {
    const main = await compile(folder);

    const piped = spawn(process.execPath, [main, '--pace', 'max']);
    let complaint = '';
    piped.stderr.on('data', (bytes: Buffer) => {
      complaint += bytes.toString();
    });
    await once(piped.stdout, 'data');
    piped.stdout.destroy();
    expect((await once(piped, 'exit'))[0]).toBe(0);
    expect(complaint).toBe('');

    const truthFile = join(folder, 'stopped.jsonl');
    const stopped = spawn(process.execPath, [main, '--pace', '20', '--truth', truthFile]);
    await once(stopped.stdout, 'data');
    stopped.stdout.resume();
    stopped.kill('SIGTERM');
    expect((await once(stopped, 'exit'))[0]).toBe(0);
    expect(readFileSync(truthFile, 'utf8')).toContain('"kind":"heating"');

    const refused = spawn(process.execPath, [main, '--scenario', 'nothing']);
    expect((await once(refused, 'exit'))[0]).toBe(2);
  });
});

describe('over TCP', () => {
  const portOf = (told: string) => Number(/tcp:127\.0\.0\.1:(\d+)/.exec(told)?.[1]);

  it('serves several clients on loopback, and outlives each of them', async () => {
    const run = command(...'--to tcp:0 --pace 20 --scenario steady'.split(' '));
    const port = portOf(await run.told());
    const texts = ['', ''];
    const sockets = texts.map((_, i) => {
      const socket = connect(port, '127.0.0.1');
      socket.on('data', (bytes) => {
        texts[i] += bytes.toString('latin1');
      });
      return socket;
    });
    const closed = once(sockets[1]!, 'close');
    await expect.poll(() => Math.min(...texts.map((text) => text.length)), { timeout: 10_000 }).toBeGreaterThan(10_000);
    sockets[0]!.destroy();
    const before = texts[1]!.length;
    await expect.poll(() => texts[1]!.length, { timeout: 10_000 }).toBeGreaterThan(before + 20_000);
    run.stop();
    expect(await run.code).toBe(0);
    await closed;
    for (const text of texts) {
      const numbers = readingsOf(text).map((reading) => reading.n!);
      expect(numbers.length).toBeGreaterThan(50);
      for (let i = 1; i < numbers.length; i++) expect(numbers[i]).toBe(numbers[i - 1]! + 1);
    }
  });

  it('at pace max waits for a client and loses it no line', async () => {
    const run = command(
      ...'--to tcp:127.0.0.1:0 --pace max --duration 300 --scenario steady --shape columns'.split(' '),
    );
    const socket = connect(portOf(await run.told()), '127.0.0.1');
    let text = '';
    socket.on('data', (bytes) => {
      text += bytes.toString('latin1');
    });
    const [code] = await Promise.all([run.code, once(socket, 'close')]);
    expect(code).toBe(0);
    const simulation = createSimulation({ scenario: 'steady', shape: 'columns' });
    // A client is greeted with the header line that names its columns.
    expect(text).toBe(simulation.header + simulation.advanceTo(300));
  });

  it('says so when the port is taken', async () => {
    const first = command('--to', 'tcp:0');
    const port = portOf(await first.told());
    const second = command('--to', `tcp:${port}`);
    expect(await second.code).toBe(1);
    expect(second.err()).toContain('the port is in use, take another one or 0 for any.');
    first.stop();
    expect(await first.code).toBe(0);
  });
});

describe('on a pseudo-terminal', () => {
  /** Opens the link with the real binding and reads lines until there are enough. */
  async function readPort(path: string, count: number): Promise<string[]> {
    const port = new SerialPort({ path, baudRate: 115200, autoOpen: false });
    await new Promise<void>((resolve, reject) => port.open((error) => (error ? reject(error) : resolve())));
    const parser = port.pipe(new ReadlineParser({ delimiter: '\r\n', encoding: 'latin1' }));
    const lines: string[] = [];
    await new Promise<void>((resolve) => {
      parser.on('data', (line: string) => {
        lines.push(line);
        if (lines.length === count) resolve();
      });
    });
    await new Promise<void>((resolve) => port.close(() => resolve()));
    return lines;
  }

  it('is read by the serialport package, again after it was closed, and leaves no link behind', async () => {
    const link = join(folder, 'line');
    const run = command('--to', `pty:${link}`, '--pace', '5', '--scenario', 'steady');
    expect(await run.told()).toBe(`Reading lines at ${link}\n`);
    for (let opening = 0; opening < 2; opening++) {
      // The first piece after opening is usually cut.
      const fields = (await readPort(link, 120))
        .slice(1)
        .filter((line) => !line.startsWith('#'))
        .map(namedFields);
      expect(fields.length).toBeGreaterThan(100);
      // What waited in the terminal before it was opened may be cut once more.
      expect(fields.filter((each) => each === null).length).toBeLessThan(3);
      expect(fields.at(-1)).toMatchObject({ s1: 175, s2: 190, s3: 195 });
    }
    run.stop();
    expect(await run.code).toBe(0);
    expect(existsSync(link)).toBe(false);
  });

  it('does not overwrite what is there', async () => {
    const file = join(folder, 'precious');
    writeFileSync(file, 'mine');
    const run = command('--to', `pty:${file}`);
    expect(await run.code).toBe(1);
    expect(run.err()).toContain(`${file} exists already: remove it, or give another path after pty:.`);
    expect(readFileSync(file, 'utf8')).toBe('mine');
  });

  it('says what to install where socat is missing', async () => {
    const path = process.env.PATH;
    process.env.PATH = folder;
    try {
      const run = command('--to', `pty:${join(folder, 'other')}`);
      expect(await run.code).toBe(1);
      expect(run.err()).toContain('socat is missing: install it (apt-get install socat).');
    } finally {
      process.env.PATH = path;
    }
  });
});
