/**
 * The reference firmware on an emulated microcontroller, offered as a pseudo-terminal under a link:
 *
 *   adc, pulses, … ──stdin──▶ emulator (libsimavr) ──pty──▶ linkPath ◀── serialport
 */
import { type ChildProcessWithoutNullStreams, spawn } from 'node:child_process';
import { once } from 'node:events';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import { BUILD_FOLDER, buildMicrocontroller } from './toolchain.ts';

export interface EmulatedBoardOptions {
  /** Where the link to the pseudo-terminal shall lie; its folder must exist. */
  readonly linkPath: string;
  /** `all-fields` also prints s1…s3 (170, 185, 190) and p1…p3, and converts temperatures by the beta model. */
  readonly firmware?: 'standard' | 'all-fields';
}

/**
 * What changes the board resolves, once done, with the board's time: ms since its last reset, as its lines print in `ms`.
 * A line whose averaging began after it, that is one with an `ms` at least a line period later, shows the change in full.
 */
export interface EmulatedBoard {
  readonly linkPath: string;
  readonly pid: number;
  /** Voltage of an analog input in mV: 0 the gauge, 1…3 the thermistors. */
  adc(input: number, mv: number): Promise<number>;
  /** From one voltage to another within some seconds. */
  ramp(input: number, fromMv: number, toMv: number, seconds: number): Promise<number>;
  /** Gaussian noise of each conversion, standard deviation in mV. */
  noise(input: number, sigmaMv: number): Promise<number>;
  /** Length pulses a second; 0 stops them. */
  pulses(hz: number): Promise<number>;
  /** How long each edge of a pulse bounces, µs. */
  bounce(us: number): Promise<number>;
  /** Share of time (0…1) that the heater signal of zone 1…3 is on. */
  heater(zone: number, share: number): Promise<number>;
  /** Pulls the cable: whoever reads gets a hang-up, the link is gone; the board runs on. */
  unplug(): Promise<number>;
  plug(): Promise<number>;
  /** Presses the reset button. */
  reset(): Promise<number>;
  /** Lets the program hang, so that the watchdog restarts it. */
  hang(): Promise<number>;
  /** Emulated seconds a real second. */
  speed(factor: number): Promise<number>;
  /** SIGKILL: the pseudo-terminal hangs up and the link is left dangling. */
  kill(): Promise<void>;
  /** The board's present time, ms since its last reset: what its lines print as `ms`. */
  time(): Promise<number>;
  /** Ends the emulator; the link is removed. Harmless if it has ended already. */
  stop(): Promise<void>;
}

/**
 * Builds what is stale and starts the board; resolves once the link can be opened.
 *
 * @throws Error that names missing Debian packages, a compiler's message, or why the emulator ended
 */
export async function startEmulatedBoard(options: EmulatedBoardOptions): Promise<EmulatedBoard> {
  await buildMicrocontroller();
  const elf = options.firmware === 'all-fields' ? 'firmware-all-fields.elf' : 'firmware.elf';
  const child = spawn(join(BUILD_FOLDER, 'emulator'), [join(BUILD_FOLDER, elf), options.linkPath]);
  const dialogue = new Dialogue(child);
  await dialogue.ready();
  const say = (command: string) => dialogue.say(command);

  const end = async (how: () => void) => {
    if (child.exitCode !== null || child.signalCode !== null) return;
    const exited = once(child, 'exit');
    how();
    await exited;
  };

  return {
    linkPath: options.linkPath,
    pid: child.pid!,
    adc: (input, mv) => say(`adc ${input} ${mv}`),
    ramp: (input, fromMv, toMv, seconds) => say(`ramp ${input} ${fromMv} ${toMv} ${seconds}`),
    noise: (input, sigmaMv) => say(`noise ${input} ${sigmaMv}`),
    pulses: (hz) => say(`pulses ${hz}`),
    bounce: (us) => say(`bounce ${us}`),
    heater: (zone, share) => say(`heater ${zone} ${share}`),
    unplug: () => say('unplug'),
    plug: () => say('plug'),
    reset: () => say('reset'),
    hang: () => say('hang'),
    speed: (factor) => say(`speed ${factor}`),
    time: () => say('time'),
    kill: () => end(() => child.kill('SIGKILL')),
    stop: () => end(() => child.stdin.end('quit\n')),
  };
}

interface Waiting {
  resolve(boardMs: number): void;
  reject(error: Error): void;
}

/** One answer a command, in order: `ready …` first, then `ok MS …` or `error: …`. */
class Dialogue {
  readonly #child: ChildProcessWithoutNullStreams;
  readonly #waiting: Waiting[] = [];
  #complaints = '';
  #ended: Error | undefined;

  constructor(child: ChildProcessWithoutNullStreams) {
    this.#child = child;
  }

  ready(): Promise<number> {
    createInterface({ input: this.#child.stdout }).on('line', (line) => this.#answer(line));
    this.#child.stderr.setEncoding('utf8').on('data', (text: string) => {
      this.#complaints += text;
    });
    // Writing to an emulator that has just been killed fails; the pending command is rejected by `exit`.
    this.#child.stdin.on('error', (error) => this.#end(error));
    this.#child.on('error', (error) => this.#end(error));
    this.#child.on('exit', (code, signal) =>
      this.#end(new Error(`the emulator has ended (${signal ?? `exit code ${code}`}): ${this.#complaints.trim()}`)),
    );
    return this.#nextAnswer();
  }

  say(command: string): Promise<number> {
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
