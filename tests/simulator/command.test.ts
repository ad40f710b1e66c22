import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { connect, type Socket } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { PassThrough } from 'node:stream';
import { ReadlineParser } from '@serialport/parser-readline';
import { SerialPort } from 'serialport';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { runCommand } from '../../simulator/command/run.ts';
import { createSimulation, scenarioNames } from '../../simulator/index.ts';
import { PROGRAM } from '../service/running-service.ts';
import { linesOf, namedFields, readingsOf, stepsOf } from './readings.ts';

let folder: string;
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'simulator-'));
});
afterAll(() => rmSync(folder, { recursive: true }));

/** Run the command in this process. */
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
    /** Resolves with the first output on stderr. */
    firstError: () =>
      new Promise<string>((resolve) => {
        onErr = () => resolve(err);
        if (err !== '') resolve(err);
      }),
  };
}

describe('the command', () => {
  it('writes the bytes of the simulation to stdout and the truth to a file', async () => {
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

  it('has options for shape, rate, checksum and axes', async () => {
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
    [['--colour', 'red'], 'Unknown option “--colour”. See --help for all options.'],
    [['evening'], 'Unexpected argument “evening”. See --help for all options.'],
    [['--seed'], '--seed needs a value. See --help for all options.'],
    [['--seed', '--list'], '--seed needs a value. See --help for all options.'],
    [['--list=all'], '--list takes no value. See --help for all options.'],
    [['--scenario', 'dampfeed'], 'Unknown scenario “dampfeed”. Choose one of evening, steady,'],
    [['--seed', '-1x'], '--seed'],
    [['--seed=1.5'], '"1.5" is not a valid value for --seed. Choose a whole number from 0'],
    [['--pace', 'fast'], '"fast" is not a valid value for --pace. Choose a number from 0.01 to 10000, or max.'],
    [['--pace=0'], '"0" is not a valid value for --pace.'],
    [['--rate', '500'], '"500" is not a valid value for --rate. Choose a number from 0.1 to 200.'],
    [['--rate='], '"" is not a valid value for --rate.'],
    [['--duration', 'long'], '"long" is not a valid value for --duration.'],
    [['--shape', 'xml'], '"xml" is not a valid value for --shape. Choose one of named, json, columns.'],
    [['--axes', '3'], '"3" is not a valid value for --axes. Choose one of 1, 2.'],
    [
      ['--to', 'udp:5'],
      '"udp:5" is not a valid value for --to. Choose stdout, tcp:PORT, tcp:HOST:PORT (port up to 65535) or pty:LINK.',
    ],
    [['--to', 'tcp:70000'], '"tcp:70000" is not a valid value for --to.'],
    [['--checksum', '--no-checksum'], '--checksum and --no-checksum exclude each other. Use one of them.'],
  ])('refuses %j with one clear line and exit code 2', async (args, message) => {
    const run = command(...args);
    expect(await run.code).toBe(2);
    expect(run.err()).toContain(message);
    expect(run.err().trim().split('\n').length).toBe(1);
    expect(run.out()).toBe('');
  });

  it('reports what to do if the truth cannot be written', async () => {
    const run = command('--truth', join(folder, 'missing', 'truth.jsonl'));
    expect(await run.code).toBe(1);
    expect(run.err()).toContain('Choose a path in an existing folder.');
  });

  it('ends without an error when its reader closes, and properly on a signal', { timeout: 60_000 }, async () => {
    const piped = spawn(process.execPath, [PROGRAM, 'simulate', '--pace', 'max']);
    let errorOutput = '';
    piped.stderr.on('data', (bytes: Buffer) => {
      errorOutput += bytes.toString();
    });
    await once(piped.stdout, 'data');
    piped.stdout.destroy();
    expect((await once(piped, 'exit'))[0]).toBe(0);
    expect(errorOutput).toBe('');

    const truthFile = join(folder, 'stopped.jsonl');
    const stopped = spawn(process.execPath, [PROGRAM, 'simulate', '--pace', '20', '--truth', truthFile]);
    await once(stopped.stdout, 'data');
    stopped.stdout.resume();
    stopped.kill('SIGTERM');
    expect((await once(stopped, 'exit'))[0]).toBe(0);
    expect(readFileSync(truthFile, 'utf8')).toContain('"kind":"heating"');

    const refused = spawn(process.execPath, [PROGRAM, 'simulate', '--scenario', 'nothing']);
    expect((await once(refused, 'exit'))[0]).toBe(2);
  });
});

describe('over TCP', () => {
  function connectClient(port: number): { socket: Socket; text: string } {
    const client = { socket: connect(port, '127.0.0.1'), text: '' };
    client.socket.on('data', (bytes) => {
      client.text += bytes.toString('latin1');
    });
    return client;
  }

  const portOf = (text: string) => Number(/tcp:127\.0\.0\.1:(\d+)/.exec(text)?.[1]);

  it('serves several clients on loopback and continues when one disconnects', async () => {
    const run = command(...'--to tcp:0 --pace 20 --scenario steady'.split(' '));
    const port = portOf(await run.firstError());
    const [first, second] = [connectClient(port), connectClient(port)];
    const closed = once(second.socket, 'close');
    await expect.poll(() => first.text.length, { timeout: 10_000 }).toBeGreaterThan(10_000);
    await expect.poll(() => second.text.length, { timeout: 10_000 }).toBeGreaterThan(10_000);
    first.socket.destroy();
    const before = second.text.length;
    await expect.poll(() => second.text.length, { timeout: 10_000 }).toBeGreaterThan(before + 20_000);
    run.stop();
    expect(await run.code).toBe(0);
    await closed;
    for (const { text } of [first, second]) {
      const numbers = readingsOf(text).map((reading) => reading.n);
      expect(numbers.length).toBeGreaterThan(50);
      expect(new Set(stepsOf(numbers))).toEqual(new Set([1]));
    }
  });

  it('waits for a client at pace max and loses no line', async () => {
    const run = command(
      ...'--to tcp:127.0.0.1:0 --pace max --duration 300 --scenario steady --shape columns'.split(' '),
    );
    const client = connectClient(portOf(await run.firstError()));
    const [code] = await Promise.all([run.code, once(client.socket, 'close')]);
    expect(code).toBe(0);
    const simulation = createSimulation({ scenario: 'steady', shape: 'columns' });
    // A client first receives the header line.
    expect(client.text).toBe(simulation.header + simulation.advanceTo(300));
  });

  it('reports a port that is in use', async () => {
    const first = command('--to', 'tcp:0');
    const port = portOf(await first.firstError());
    const second = command('--to', `tcp:${port}`);
    expect(await second.code).toBe(1);
    expect(second.err()).toContain('the port is in use; choose another one, or 0 for any.');
    first.stop();
    expect(await first.code).toBe(0);
  });
});

describe('on a pseudo-terminal', () => {
  /** Open the link with the real binding and read this many lines. */
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

  it('is read by the serialport package, also a second time, and removes its link', async () => {
    const link = join(folder, 'line');
    const run = command('--to', `pty:${link}`, '--pace', '5', '--scenario', 'steady');
    expect(await run.firstError()).toBe(`Reading lines at ${link}\n`);
    for (let opening = 0; opening < 2; opening++) {
      // The first line after opening is usually incomplete.
      const fields = (await readPort(link, 120))
        .slice(1)
        .filter((line) => !line.startsWith('#'))
        .map(namedFields);
      expect(fields.length).toBeGreaterThan(100);
      // The lines that waited in the terminal may contain another incomplete one.
      expect(fields.filter((each) => each === null).length).toBeLessThan(3);
      expect(fields.at(-1)).toMatchObject({ s1: 175, s2: 190, s3: 195 });
    }
    run.stop();
    expect(await run.code).toBe(0);
    expect(existsSync(link)).toBe(false);
  });

  it('does not overwrite a file', async () => {
    const file = join(folder, 'precious');
    writeFileSync(file, 'mine');
    const run = command('--to', `pty:${file}`);
    expect(await run.code).toBe(1);
    expect(run.err()).toContain(`${file} already exists. Remove it, or choose another path after pty:.`);
    expect(readFileSync(file, 'utf8')).toBe('mine');
  });

  it('reports what to install if socat is missing', async () => {
    const path = process.env.PATH;
    process.env.PATH = folder;
    try {
      const run = command('--to', `pty:${join(folder, 'other')}`);
      expect(await run.code).toBe(1);
      expect(run.err()).toContain('socat is not installed. Install it with: apt-get install socat');
    } finally {
      process.env.PATH = path;
    }
  });
});
