/**
 * The reference firmware on an emulated microcontroller, whose serial output is a pseudo-terminal with a link to it:
 *
 *   adc, pulses, … ──stdin──▶ emulator (libsimavr) ──pty──▶ linkPath ◀── serialport
 */
import { type ChildProcessWithoutNullStreams, spawn } from 'node:child_process';
import { once } from 'node:events';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import { BUILD_FOLDER, buildMicrocontroller } from './toolchain.ts';

export interface EmulatedBoardOptions {
  /** Path of the link to the pseudo-terminal; its folder must exist. */
  readonly linkPath: string;
  /** `all-fields` also prints s1…s3 (170, 185, 190) and p1…p3, and converts temperatures by the beta model. */
  readonly firmware?: 'standard' | 'all-fields';
}

/**
 * Each change resolves, once done, with the board's time: ms since its last reset, as in the `ms` of its lines. A line shows
 * the change completely if its averaging started later, so if its `ms` is at least a line period later.
 */
export interface EmulatedBoard {
  readonly linkPath: string;
  readonly pid: number;
  /** Voltage of an analog input in mV: 0 the gauge, 1…3 the thermistors. */
  adc(input: number, mv: number): Promise<number>;
  /** Change linearly from one voltage to another. */
  ramp(input: number, fromMv: number, toMv: number, seconds: number): Promise<number>;
  /** Gaussian noise of each conversion, as standard deviation in mV. */
  noise(input: number, sigmaMv: number): Promise<number>;
  /** Length pulses per second; 0 stops them. */
  pulses(hz: number): Promise<number>;
  /** Time that each edge of a pulse bounces, µs. */
  bounce(us: number): Promise<number>;
  /** Share of time (0…1) that the heater signal of zone 1…3 is on. */
  heater(zone: number, share: number): Promise<number>;
  /** Unplug the cable: a reader gets a hang-up and the link is removed, but the board keeps running. */
  unplug(): Promise<number>;
  plug(): Promise<number>;
  /** Press the reset button. */
  reset(): Promise<number>;
  /** Make the program hang, so that the watchdog restarts it. */
  hang(): Promise<number>;
  /** Emulated seconds per real second. */
  speed(factor: number): Promise<number>;
  /** Kill the emulator: the pseudo-terminal hangs up and the link is left dangling. */
  kill(): Promise<void>;
  /** The board's current time, ms since its last reset, as in the `ms` of its lines. */
  time(): Promise<number>;
  /** End the emulator and remove the link. Harmless if it has already ended. */
  stop(): Promise<void>;
}

/**
 * Build firmware and emulator if necessary, and start the board. Resolves when the link can be opened.
 * @throws Error with the missing Debian packages, a compiler's message, or the reason why the emulator ended
 */
export async function startEmulatedBoard(options: EmulatedBoardOptions): Promise<EmulatedBoard> {
  await buildMicrocontroller();
  const elf = options.firmware === 'all-fields' ? 'firmware-all-fields.elf' : 'firmware.elf';
  const child = spawn(join(BUILD_FOLDER, 'emulator'), [join(BUILD_FOLDER, elf), options.linkPath]);
  const dialogue = new Dialogue(child);
  await dialogue.ready();
  const { pid } = child;
  if (pid === undefined) throw new Error('The emulator has no process id.');
  const send = (command: string) => dialogue.send(command);

  const end = async (act: () => void) => {
    if (child.exitCode !== null || child.signalCode !== null) return;
    const exited = once(child, 'exit');
    act();
    await exited;
  };

  return {
    linkPath: options.linkPath,
    pid,
    adc: (input, mv) => send(`adc ${input} ${mv}`),
    ramp: (input, fromMv, toMv, seconds) => send(`ramp ${input} ${fromMv} ${toMv} ${seconds}`),
    noise: (input, sigmaMv) => send(`noise ${input} ${sigmaMv}`),
    pulses: (hz) => send(`pulses ${hz}`),
    bounce: (us) => send(`bounce ${us}`),
    heater: (zone, share) => send(`heater ${zone} ${share}`),
    unplug: () => send('unplug'),
    plug: () => send('plug'),
    reset: () => send('reset'),
    hang: () => send('hang'),
    speed: (factor) => send(`speed ${factor}`),
    time: () => send('time'),
    kill: () => end(() => child.kill('SIGKILL')),
    stop: () => end(() => child.stdin.end('quit\n')),
  };
}

interface Waiting {
  resolve(boardMs: number): void;
  reject(error: Error): void;
}

/** One answer per command, in order: first `ready …`, then `ok MS …` or `error: …`. */
class Dialogue {
  readonly #child: ChildProcessWithoutNullStreams;
  readonly #waiting: Waiting[] = [];
  #errorOutput = '';
  #ended: Error | undefined;

  constructor(child: ChildProcessWithoutNullStreams) {
    this.#child = child;
  }

  ready(): Promise<number> {
    createInterface({ input: this.#child.stdout }).on('line', (line) => this.#answer(line));
    this.#child.stderr.setEncoding('utf8').on('data', (text: string) => {
      this.#errorOutput += text;
    });
    // Writing to an emulator that has just ended fails; the pending commands are rejected.
    this.#child.stdin.on('error', (error) => this.#end(error));
    this.#child.on('error', (error) => this.#end(error));
    this.#child.on('exit', (code, signal) =>
      this.#end(new Error(`The emulator has ended (${signal ?? `exit code ${code}`}): ${this.#errorOutput.trim()}`)),
    );
    return this.#nextAnswer();
  }

  send(command: string): Promise<number> {
    if (this.#ended) return Promise.reject(this.#ended);
    const answered = this.#nextAnswer();
    this.#child.stdin.write(`${command}\n`);
    return answered;
  }

  #nextAnswer(): Promise<number> {
    return new Promise((resolve, reject) => this.#waiting.push({ resolve, reject }));
  }

  #answer(line: string): void {
    if (line.startsWith('ready ')) this.#waiting.shift()?.resolve(0);
    else if (line.startsWith('ok ')) this.#waiting.shift()?.resolve(Number(line.split(' ')[1]));
    else if (line.startsWith('error: ')) this.#waiting.shift()?.reject(new Error(line.slice('error: '.length)));
  }

  #end(error: Error): void {
    this.#ended ??= error;
    for (const waiting of this.#waiting.splice(0)) waiting.reject(this.#ended);
  }
}
