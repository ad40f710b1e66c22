/** Reads complete lines from a serial port with the real binding. */
import { ReadlineParser } from '@serialport/parser-readline';
import { SerialPort } from 'serialport';

export interface ReceivedLine {
  readonly text: string;
  /** Text of each value by name. */
  readonly fields: ReadonlyMap<string, string>;
  readonly hasCorrectChecksum: boolean;
  /** Arrival on this computer's monotonic clock, ms. */
  readonly atMs: number;
}

export interface LineListener {
  /** The next `count` lines. */
  next(count: number): Promise<ReceivedLine[]>;
  /** The next lines, up to and including the first that meets the condition. */
  until(condition: (line: ReceivedLine) => boolean): Promise<ReceivedLine[]>;
  /** The first line from here on that meets the condition. */
  first(condition: (line: ReceivedLine) => boolean): Promise<ReceivedLine>;
  close(): Promise<void>;
}

const WAIT_MS_MAX = 8_000;

export function parseLine(text: string, atMs: number): ReceivedLine {
  const star = text.lastIndexOf('*');
  const body = star < 0 ? text : text.slice(0, star);
  let sum = 0;
  for (const byte of Buffer.from(body, 'latin1')) sum ^= byte;
  const fields = new Map(body.split(' ').map((field) => field.split('=', 2) as [string, string]));
  return {
    text,
    fields,
    atMs,
    hasCorrectChecksum: text.slice(star + 1) === sum.toString(16).toUpperCase().padStart(2, '0'),
  };
}

/** Value of a field as a number; NaN for `nan`. */
export function numberOf(line: ReceivedLine, name: string): number {
  const text = line.fields.get(name);
  if (text === undefined) throw new Error(`The line has no field ${name}: ${line.text}`);
  return text === 'nan' ? Number.NaN : Number(text);
}

/** Differences between consecutive values. */
export function stepsOf(values: readonly number[]): number[] {
  return values.slice(1).map((value, i) => value - (values[i] ?? Number.NaN));
}

export async function listen(path: string): Promise<LineListener> {
  const port = new SerialPort({ path, baudRate: 115200, autoOpen: false });
  await new Promise<void>((resolve, reject) => port.open((error) => (error ? reject(error) : resolve())));

  const lines: ReceivedLine[] = [];
  let wake = () => {};
  let failure: Error | undefined;
  port.on('error', (error) => {
    failure = error;
    wake();
  });
  let isFirst = true;
  port.pipe(new ReadlineParser({ delimiter: '\n' })).on('data', (text: string) => {
    // Opening discards what the system had buffered, so the first line is usually incomplete.
    if (!isFirst) lines.push(parseLine(text, performance.now()));
    isFirst = false;
    wake();
  });

  /** The next line. @throws Error after the deadline */
  const take = async (deadlineMs: number): Promise<ReceivedLine> => {
    for (;;) {
      if (failure) throw failure;
      const leftMs = deadlineMs - performance.now();
      if (leftMs <= 0) throw new Error(`The expected line did not arrive within ${WAIT_MS_MAX} ms.`);
      const line = lines.shift();
      if (line !== undefined) return line;
      await new Promise<void>((resolve) => {
        const timer = setTimeout(resolve, leftMs);
        wake = () => {
          clearTimeout(timer);
          resolve();
        };
      });
    }
  };

  return {
    async next(count) {
      const deadlineMs = performance.now() + WAIT_MS_MAX;
      const taken: ReceivedLine[] = [];
      while (taken.length < count) taken.push(await take(deadlineMs));
      return taken;
    },
    async until(condition) {
      const deadlineMs = performance.now() + WAIT_MS_MAX;
      const taken: ReceivedLine[] = [];
      for (;;) {
        const line = await take(deadlineMs);
        taken.push(line);
        if (condition(line)) return taken;
      }
    },
    async first(condition) {
      const deadlineMs = performance.now() + WAIT_MS_MAX;
      for (;;) {
        const line = await take(deadlineMs);
        if (condition(line)) return line;
      }
    },
    async close() {
      if (port.isOpen) await new Promise<void>((resolve, reject) => port.close((e) => (e ? reject(e) : resolve())));
    },
  };
}
