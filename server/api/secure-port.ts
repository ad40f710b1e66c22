import { createServer, type RequestListener, type Server } from 'node:http';
import type { Socket } from 'node:net';
import { createServer as createTlsServer, type SecureContextOptions, type TLSSocket } from 'node:tls';

/** RFC 8446, 5.1: the first byte of a TLS connection. No HTTP request starts with it. */
const TLS_HANDSHAKE = 22;
/** A connection that has not said by then what it wants, or not completed its handshake, is closed. */
const BEGINS_WITHIN_MS = 10_000;

interface Timeouts {
  readonly connectionTimeout?: number;
  readonly keepAliveTimeout?: number;
  readonly requestTimeout?: number;
}

/** A request without a host is refused by a hook, with a reason. */
export const NODE_OPTIONS = { requireHostHeader: false } as const;

export interface SecurePort {
  /** The HTTP server for both, as Fastify's `serverFactory` needs it. */
  serverFor(handler: RequestListener, timeouts: Timeouts): Server;
  /** New connections use this certificate; open ones stay as they are. */
  use(certificate: SecureContextOptions): void;
  /** Closes connections that have not become HTTP yet, and new ones at once. The others belong to the HTTP server. */
  stop(): void;
}

/** Serves HTTPS and HTTP on one port, so that someone who types the address without `https:` is led to the page too. */
export function securePort(certificate: SecureContextOptions, beginsWithinMs = BEGINS_WITHIN_MS): SecurePort {
  const undecided = new Set<Socket>();
  let stopped = false;
  const tls = createTlsServer({
    ...certificate,
    ALPNProtocols: ['http/1.1'],
    handshakeTimeout: beginsWithinMs,
  });
  // Devices without the authority's certificate break off all the time. A handshake that takes too long is reported here too, and
  // its connection is still open.
  tls.on('tlsClientError', (_error, socket) => socket.destroy());
  return {
    serverFor: (handler, { connectionTimeout, keepAliveTimeout, requestTimeout }) => {
      const http = createServer(NODE_OPTIONS, handler);
      if (connectionTimeout !== undefined) http.setTimeout(connectionTimeout);
      if (keepAliveTimeout !== undefined) http.keepAliveTimeout = keepAliveTimeout;
      if (requestTimeout !== undefined) http.requestTimeout = requestTimeout;
      const serveHttp = http.listeners('connection') as ((socket: Socket) => void)[];
      const serve = (socket: Socket) => {
        for (const one of serveHttp) one.call(http, socket);
      };
      http.removeAllListeners('connection');
      http.on('connection', (socket: Socket) => {
        const close = () => socket.destroy();
        if (stopped) close();
        undecided.add(socket);
        socket.once('close', () => undecided.delete(socket));
        socket.on('error', close);
        socket.setTimeout(beginsWithinMs, close);
        socket.once('data', (first: Buffer) => {
          socket.pause();
          socket.setTimeout(0, close);
          socket.unshift(first);
          if (first[0] === TLS_HANDSHAKE) tls.emit('connection', socket);
          else {
            undecided.delete(socket);
            serve(socket);
          }
          process.nextTick(() => socket.resume());
        });
      });
      tls.on('secureConnection', (socket: TLSSocket) => serve(socket));
      return http;
    },
    use: (successor) => tls.setSecureContext(successor),
    stop: () => {
      stopped = true;
      for (const socket of undecided) socket.destroy();
    },
  };
}
