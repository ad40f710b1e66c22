import { readdirSync, readlinkSync } from 'node:fs';
import { setTimeout as sleep } from 'node:timers/promises';
import type { LinkStatus, SourceListener } from '../../server/source/source.ts';

/** A listener that collects everything that a source reports, in order. */
export class CollectingListener implements SourceListener {
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

/** Wait until a condition is true. @throws Error that names the condition */
export async function until(what: string, condition: () => boolean, limitMs = 10_000): Promise<void> {
  const giveUp = performance.now() + limitMs;
  while (!condition()) {
    if (performance.now() > giveUp) throw new Error(`${limitMs} ms were not enough until ${what}`);
    await sleep(10);
  }
}

/** Resources that are open now and were not before. */
export function newResources(before: readonly string[]): string[] {
  const rest = [...before];
  return openResources().filter((resource) => {
    const at = rest.indexOf(resource);
    if (at >= 0) rest.splice(at, 1);
    return at < 0;
  });
}

/** Open resources of this process: terminals, sockets, logs, timers, pending calls. */
export function openResources(): string[] {
  const files = readdirSync('/proc/self/fd').map((fd) => {
    try {
      return readlinkSync(`/proc/self/fd/${fd}`);
    } catch {
      // It was the handle of this listing.
      return '';
    }
  });
  const devices = files.filter((file) => /^\/dev\/(?:pts\/|tty)|\.log$|^socket:/.test(file));
  const resources = process
    .getActiveResourcesInfo()
    .filter((kind) => /Timeout|TCPWRAP|TCPSocket|FSReq|Poll|Immediate/i.test(kind));
  return [...devices, ...resources].sort();
}
