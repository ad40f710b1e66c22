import { readdirSync, readlinkSync } from 'node:fs';
import { setTimeout as sleep } from 'node:timers/promises';
import type { LinkStatus, SourceListener } from '../../server/source/source.ts';

/** A listener that keeps all that a source says, in order. */
export class Hearer implements SourceListener {
  readonly events: ('opened' | 'bytes' | LinkStatus)[] = [];
  readonly arrivals: (number | null)[] = [];
  text = '';

  bytes(chunk: Uint8Array, arrivalMs: number | null): void {
    this.events.push('bytes');
    this.arrivals.push(arrivalMs);
    this.text += Buffer.from(chunk).toString('latin1');
  }

  opened(): void {
    this.events.push('opened');
  }

  status(status: LinkStatus): void {
    this.events.push(status);
  }

  get statuses(): LinkStatus[] {
    return this.events.filter((event) => typeof event !== 'string');
  }

  get phases(): string[] {
    return this.statuses.map((status) => status.phase);
  }

  get statusText(): string {
    return this.statuses.map((status) => status.text).join('\n');
  }

  count(what: 'opened' | 'bytes'): number {
    return this.events.filter((event) => event === what).length;
  }
}

/** Wait until something is so. @throws Error that says what was awaited */
export async function until(what: string, isSo: () => boolean, limitMs = 10_000): Promise<void> {
  const giveUp = performance.now() + limitMs;
  while (!isSo()) {
    if (performance.now() > giveUp) throw new Error(`Waited ${limitMs} ms in vain until ${what}`);
    await sleep(10);
  }
}

/** What of this is open or under way in addition to what was before. */
export function leftBehind(before: readonly string[]): string[] {
  const rest = [...before];
  return openThings().filter((thing) => {
    const at = rest.indexOf(thing);
    if (at >= 0) rest.splice(at, 1);
    return at < 0;
  });
}

/** What this process has open and under way: terminals, sockets, logs, timers. */
export function openThings(): string[] {
  const files = readdirSync('/proc/self/fd').map((fd) => {
    try {
      return readlinkSync(`/proc/self/fd/${fd}`);
    } catch {
      // It was the handle that this listing itself was made with.
      return '';
    }
  });
  const devices = files.filter((file) => /^\/dev\/(?:pts\/|tty)|\.log$|^socket:/.test(file));
  const resources = process
    .getActiveResourcesInfo()
    .filter((kind) => /Timeout|TCPWRAP|TCPSocket|FSReq|Poll|Immediate/i.test(kind));
  return [...devices, ...resources].sort();
}
