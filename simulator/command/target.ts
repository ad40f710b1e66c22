/** Where the reading lines go. */

import { SimulatorInputError } from '../simulator-input-error.ts';

export type Target =
  | { readonly to: 'stdout' }
  | { readonly to: 'tcp'; readonly host: string; readonly port: number }
  | { readonly to: 'pty'; readonly link: string };

/** A place that takes reading lines. It does nothing before `open` and leaves nothing behind after `close`. */
export interface Outlet {
  /** A sentence that tells where a reader finds the lines; null if there is nothing to tell. */
  open(): Promise<string | null>;
  /** Takes raw text, one character a byte (latin1). Kept once there is room for more. */
  write(chunk: string): Promise<void>;
  /** Kept when the place is gone by itself: the reader closed it (undefined) or it failed. */
  readonly gone: Promise<Error | undefined>;
  close(): Promise<void>;
}

export function parseTarget(text: string): Target {
  if (text === 'stdout') return { to: 'stdout' };
  const pty = /^pty:(.+)$/.exec(text);
  if (pty?.[1] !== undefined) return { to: 'pty', link: pty[1] };
  const tcp = /^tcp:(?:(.+):)?(\d+)$/.exec(text);
  const port = Number(tcp?.[2]);
  if (tcp !== null && port <= 65_535) return { to: 'tcp', host: tcp[1]?.replace(/^\[|\]$/g, '') ?? '127.0.0.1', port };
  throw new SimulatorInputError(
    `--to ${text} does not do; give stdout, tcp:PORT, tcp:HOST:PORT (port up to 65535) or pty:LINK.`,
  );
}
