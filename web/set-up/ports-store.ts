import { signal } from '@preact/signals';
import { call } from '../service/call.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import type { SourceParts } from './source-text.ts';
import { whileVisible } from './while-visible.ts';

export type Port = Awaited<ReturnType<typeof call<'GET /api/serial-ports'>>>[number];

const LOOK_EVERY_MS = 2000;

/** The serial ports of the service's machine; null = not fetched yet. */
export const ports = signal<readonly Port[] | null>(null);
/** Why they could not be fetched the last time. */
export const portsProblem = signal<ServiceProblem | null>(null);

/** Keeps `ports` current until the returned function is called. */
export function followPorts(): () => void {
  return whileVisible(LOOK_EVERY_MS, async (over) => {
    try {
      ports.value = await call('GET /api/serial-ports', { signal: over });
      portsProblem.value = null;
    } catch (thrown) {
      if (!over.aborted) portsProblem.value = asProblem(thrown);
    }
  });
}

/** Whether a source reads this port. */
export function isPortOf(source: SourceParts, { path, stablePath }: Port): boolean {
  return source.kind === 'serial' && (source.path === stablePath || source.path === path);
}
