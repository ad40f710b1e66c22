import { SerialPort } from 'serialport';
import { messageOf } from '../problem/problem.ts';
import type { Connection, Connector } from './connection.ts';
import { ReconnectingSource } from './reconnecting-source.ts';
import { serialText } from './serial-text.ts';
import type { Source } from './source.ts';

export interface SerialSourceOptions {
  /** A device or a link to one, such as `/dev/serial/by-id/…`, which keeps its name after replugging. */
  readonly path: string;
  readonly baud: number;
  readonly silenceMs?: number;
  readonly longestPauseMs?: number;
}

const SILENCE_MS = 5000;
/** Longest wait for a port to report that it is closed. */
const CLOSE_MS = 2000;

/**
 * Reading lines over a serial port.
 *
 * After a hang-up the binding may busy-wait on a port that sends no bytes and never emits `close`. So silence alone makes
 * the source close the port and open it again, regardless of events.
 */
export function serialSource(options: SerialSourceOptions, clock: () => number): Source {
  const { silenceMs = SILENCE_MS, longestPauseMs } = options;
  return new ReconnectingSource(serialConnector(options.path, options.baud), clock, {
    silenceMs,
    ...(longestPauseMs === undefined ? {} : { longestPauseMs }),
  });
}

function serialConnector(path: string, baudRate: number): Connector {
  return {
    title: `serial port ${path}`,
    place: path,
    silence: 'it is open, but nothing arrived',
    baudRate,
    open: () =>
      new Promise((resolve, reject) => {
        // Without hupcl, closing leaves DTR as it is: boards that reset on DTR do not restart at every reconnection.
        const port = new SerialPort({ path, baudRate, hupcl: false, autoOpen: false });
        // A pending read or write may still fail later, which must not end the process.
        port.on('error', () => {});
        port.open((error) => {
          if (error === null) resolve(new SerialConnection(port));
          else reject(new Error(serialText(error.message)));
        });
      }),
  };
}

class SerialConnection implements Connection {
  readonly lost: Promise<string>;
  readonly #port: SerialPort;
  readonly #closed: Promise<void>;

  constructor(port: SerialPort) {
    this.#port = port;
    let resolveClosed = () => {};
    this.#closed = new Promise((resolve) => {
      resolveClosed = resolve;
    });
    this.lost = new Promise((resolve) => {
      // `close` may be emitted twice; the first resolves the promises.
      port.on('close', (error: unknown) => {
        resolveClosed();
        resolve(error === null || error === undefined ? 'the port was closed' : serialText(messageOf(error)));
      });
    });
  }

  listen(bytes: (chunk: Uint8Array) => void): void {
    this.#port.on('data', bytes);
  }

  setRate(baudRate: number): Promise<void> {
    return new Promise((resolve, reject) => {
      this.#port.update({ baudRate }, (error) => (error === null ? resolve() : reject(error)));
    });
  }

  async close(): Promise<void> {
    const port = this.#port;
    port.removeAllListeners('data');
    // A port that is already closing is no longer open, but has not emitted `close` yet.
    if (port.isOpen) port.close(() => {});
    else if (!port.closing) return;
    let timer: NodeJS.Timeout | undefined;
    const timeout = new Promise<void>((resolve) => {
      timer = setTimeout(resolve, CLOSE_MS);
    });
    await Promise.race([this.#closed, timeout]);
    clearTimeout(timer);
  }
}
