/**
 * Listens to a serial port with the real binding and hands out whole lines, in order.
 */
import { ReadlineParser } from '@serialport/parser-readline';
import { SerialPort } from 'serialport';

/** Name → text of the value, and whether the checksum is right. */
export interface HeardLine {
  readonly text: string;
  readonly fields: ReadonlyMap<string, string>;
  readonly checksumIsRight: boolean;
  /** Arrival on this computer's monotonic clock, ms. */
  readonly atMs: number;
}

export interface LineListener {
  /** The `count` lines that follow the last one handed out. */
  next(count: number): Promise<HeardLine[]>;
  /** The lines that follow the last one handed out, up to and with the first that fulfils the condition. */
  until(condition: (line: HeardLine) => boolean): Promise<HeardLine[]>;
  close(): Promise<void>;
}

const PATIENCE_MS = 8_000;

export function parseHeard(text: string, atMs: number): HeardLine {
  const star = text.lastIndexOf('*');
  const body = star < 0 ? text : text.slice(0, star);
  let sum = 0;
  for (const byte of Buffer.from(body, 'latin1')) sum ^= byte;
  const fields = new Map(body.split(' ').map((field) => field.split('=', 2) as [string, string]));
  return {
    text,
    fields,
    atMs,
    checksumIsRight: text.slice(star + 1) === sum.toString(16).toUpperCase().padStart(2, '0'),
  };
}

/** Value of a field as a number; NaN for `nan`. */
export function numberOf(line: HeardLine, name: string): number {
  const text = line.fields.get(name);
  if (text === undefined) throw new Error(`no field ${name} in: ${line.text}`);
  return text === 'nan' ? Number.NaN : Number(text);
}

export async function listen(path: string): Promise<LineListener> {
  const port = new SerialPort({ path, baudRate: 115200, autoOpen: false });
  await new Promise<void>((resolve, reject) => port.open((error) => (error ? reject(error) : resolve())));

  const lines: HeardLine[] = [];
  let wake = () => {};
  let failure: Error | undefined;
  port.on('error', (error) => {
    failure = error;
    wake();
  });
  let isFirst = true;
  port.pipe(new ReadlineParser({ delimiter: '\n' })).on('data', (text: string) => {
    // Opening throws away what the system had buffered, so the first piece is most often a cut line.
    if (!isFirst) lines.push(parseHeard(text, performance.now()));
    isFirst = false;
    wake();
  });

  const take = async (isEnough: () => boolean): Promise<void> => {
    const deadline = performance.now() + PATIENCE_MS;
    while (!isEnough()) {
      if (failure) throw failure;
      const left = deadline - performance.now();
      if (left <= 0)
        throw new Error(`gave up after ${PATIENCE_MS} ms with ${lines.length} lines, last: ${lines.at(-1)?.text}`);
      await new Promise<void>((resolve) => {
        const timer = setTimeout(resolve, left);
        wake = () => {
          clearTimeout(timer);
          resolve();
        };
      });
    }
  };

  return {
    async next(count) {
      await take(() => lines.length >= count);
      return lines.splice(0, count);
    },
    async until(condition) {
      await take(() => lines.some(condition));
      return lines.splice(0, lines.findIndex(condition) + 1);
    },
    async close() {
      if (port.isOpen) await new Promise<void>((resolve, reject) => port.close((e) => (e ? reject(e) : resolve())));
    },
  };
}
