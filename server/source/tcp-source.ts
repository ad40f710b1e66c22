import { connect, type Socket } from 'node:net';
import { messageOf } from '../problem/problem.ts';
import type { Connection, Connector } from './connection.ts';
import { ReconnectingSource } from './reconnecting-source.ts';
import type { Source } from './source.ts';

export interface TcpSourceOptions {
  readonly host: string;
  readonly port: number;
  /** Longer than for a cable, because Wi-Fi may stall for seconds. */
  readonly silenceMs?: number;
  readonly connectTimeoutMs?: number;
  readonly longestPauseMs?: number;
}

const SILENCE_MS = 10_000;
const CONNECT_TIMEOUT_MS = 5000;
const KEEP_ALIVE_MS = 5000;

/** Reading lines over TCP, from a Wi-Fi microcontroller or a bridge between a serial port and the network. */
export function tcpSource(options: TcpSourceOptions, clock: () => number): Source {
  const { silenceMs = SILENCE_MS, longestPauseMs } = options;
  return new ReconnectingSource(tcpConnector(options), clock, {
    silenceMs,
    ...(longestPauseMs === undefined ? {} : { longestPauseMs }),
  });
}

function tcpConnector({ host, port, connectTimeoutMs = CONNECT_TIMEOUT_MS }: TcpSourceOptions): Connector {
  const place = `${host.includes(':') ? `[${host}]` : host}:${port}`;
  return {
    title: `TCP ${place}`,
    place,
    silence: 'nothing arrived',
    async open(signal) {
      const socket = connect({ host, port, noDelay: true, keepAlive: true, keepAliveInitialDelay: KEEP_ALIVE_MS });
      // A late error without a listener would end the process.
      socket.on('error', () => {});
      try {
        await connected(socket, connectTimeoutMs, signal);
      } catch (thrown) {
        socket.destroy();
        throw thrown;
      }
      return new TcpConnection(socket);
    },
  };
}

function connected(socket: Socket, timeoutMs: number, signal: AbortSignal): Promise<void> {
  return new Promise((resolve, reject) => {
    const settle = (finish: () => void) => {
      clearTimeout(timer);
      signal.removeEventListener('abort', stop);
      socket.off('connect', open);
      socket.off('error', fail);
      finish();
    };
    const open = () => settle(resolve);
    const fail = (error: Error) => settle(() => reject(new Error(messageOf(error))));
    const stop = () => settle(() => reject(new Error('it was stopped')));
    const timer = setTimeout(() => {
      settle(() => reject(new Error(`no answer within ${timeoutMs / 1000} s; is it switched on and on this network?`)));
    }, timeoutMs);
    socket.on('connect', open);
    socket.on('error', fail);
    signal.addEventListener('abort', stop);
    if (signal.aborted) stop();
  });
}

class TcpConnection implements Connection {
  readonly lost: Promise<string>;
  readonly #socket: Socket;

  constructor(socket: Socket) {
    this.#socket = socket;
    this.lost = new Promise((resolve) => {
      socket.once('end', () => resolve('the other side closed the connection'));
      socket.once('error', (error: Error) => resolve(messageOf(error)));
      socket.once('close', () => resolve('the connection was closed'));
    });
  }

  listen(bytes: (chunk: Uint8Array) => void): void {
    this.#socket.on('data', bytes);
  }

  async close(): Promise<void> {
    const socket = this.#socket;
    if (socket.closed) return;
    const closed = new Promise<void>((resolve) => {
      socket.once('close', () => resolve());
    });
    socket.destroy();
    await closed;
  }
}
