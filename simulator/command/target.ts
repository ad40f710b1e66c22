/** Where the reading lines are sent. */

import { SimulatorInputError } from '../simulator-input-error.ts';

export type Target =
  | { readonly to: 'stdout' }
  | { readonly to: 'tcp'; readonly host: string; readonly port: number }
  | { readonly to: 'pty'; readonly link: string };

/** Sends reading lines to whatever reads them. It does nothing until `open`; `close` releases everything. */
export interface Outlet {
  /** @returns a sentence that says where to read the lines; null = nothing to say */
  open(): Promise<string | null>;
  /** Send raw text, one character per byte (latin1). Resolves when more can be sent. */
  write(chunk: string): Promise<void>;
  /** Resolves with undefined when the reader disconnects, or with the error if sending fails. */
  readonly ended: Promise<Error | undefined>;
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
    notValid('--to', text),
    'Choose stdout, tcp:PORT, tcp:HOST:PORT (port up to 65535) or pty:LINK.',
  );
}

export function notValid(option: string, value: string): string {
  return `"${value}" is not a valid value for ${option}.`;
}
