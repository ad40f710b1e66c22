import { SerialPort } from 'serialport';
import { messageOf } from '../problem/problem.ts';
import type { Connection, Connector } from './connection.ts';
import { ReconnectingSource } from './reconnecting-source.ts';
import { serialText } from './serial-errors.ts';
import type { Source } from './source.ts';

export interface SerialSourceOptions {
  /** A device, or a link to one such as `/dev/serial/by-id/…`, which keeps its name over replugging. */
  readonly path: string;
  readonly baud: number;
  readonly silenceMs?: number;
  readonly longestPauseMs?: number;
}

const SILENCE_MS = 5000;
/** A port that does not say within this that it is closed is given up. */
const CLOSE_MS = 2000;

/**
 * Reading lines over a serial port.
 *
 * After a hang-up the binding may spin on a port that gives no bytes and never says `close`. So silence alone makes the
 * source close the port and open it again, whatever events came or did not.
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
    silence: 'it is open, but nothing came',
    open: () =>
      new Promise((resolve, reject) => {
        // Without hupcl, closing leaves DTR as it is: boards that reset on DTR do not restart at every reconnection.
        const port = new SerialPort({ path, baudRate, hupcl: false, autoOpen: false });
        // Also comes late, from a read or write that was under way: it must not end the process.
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
    let tellClosed = () => {};
    this.#closed = new Promise((resolve) => {
      tellClosed = resolve;
    });
    this.lost = new Promise((resolve) => {
      // `close` may come twice; the promises are kept by the first.
      port.on('close', (error: unknown) => {
        tellClosed();
        resolve(error === null || error === undefined ? 'the port was closed' : serialText(messageOf(error)));
      });
    });
  }

  listen(bytes: (chunk: Uint8Array) => void): void {
    this.#port.on('data', bytes);
  }

  async close(): Promise<void> {
    const port = this.#port;
    port.removeAllListeners('data');
    // A port that is closing by itself is not open any more, but its `close` is still to come.
    if (port.isOpen) port.close(() => {});
    else if (!port.closing) return;
    let timer: NodeJS.Timeout | undefined;
    const givenUp = new Promise<void>((resolve) => {
      timer = setTimeout(resolve, CLOSE_MS);
    });
    await Promise.race([this.#closed, givenUp]);
    clearTimeout(timer);
  }
}
