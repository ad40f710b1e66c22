import { signal } from '@preact/signals';
import type { IncomingView } from '../../server/api/contract/incoming.ts';
import { call } from '../service/call.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { loadSettings, settings } from '../service/settings.ts';
import type { Mapping } from './signal-rows.ts';
import { whileVisible } from './while-visible.ts';

const POLL_EVERY_MS = 1000;
/** After a new mapping the service recognises the lines again; until then, the fields stay as they were. */
const SETTLES_MS = 8000;
const ARRIVING_MS = 5000;
/** A proposal that still changes must not be accepted by a tap meant for the one before. */
const STEADY_POLLS = 3;
const SAMPLES = 6;
const SAMPLE_EVERY_MS = 500;

/** What the line sends; null = not fetched yet. */
export const incoming = signal<IncomingView | null>(null);
/** Why it could not be fetched the last time. */
export const incomingProblem = signal<ServiceProblem | null>(null);
/** The format before the current one; null = it has not changed. */
export const formerShape = signal<IncomingView['shape']>(null);
/** Whether the proposal has stopped changing. */
export const isSteady = signal(false);
/** The lines are being recognised again after a new mapping, so what is missing is not known yet. */
export const isSettling = signal(false);

/** Whether another line has arrived in the last seconds, readable or not. */
export const areLinesArriving = signal(false);

let settlesAtMs = 0;
let newLineAtMs = Number.NEGATIVE_INFINITY;
let lastShape: IncomingView['shape'] = null;
let proposals: readonly string[] = [];

/** Keeps `incoming` current until the returned function is called. */
export function followIncoming(): () => void {
  return whileVisible(POLL_EVERY_MS, async (over) => {
    try {
      take(await call('GET /api/incoming', { signal: over }));
    } catch (thrown) {
      if (!over.aborted) incomingProblem.value = asProblem(thrown);
    }
  });
}

function take(next: IncomingView): void {
  incomingProblem.value = null;
  const known = incoming.peek()?.fields ?? [];
  const before = incoming.peek()?.lastLine ?? '';
  if (before !== '' && before !== next.lastLine) newLineAtMs = performance.now();
  areLinesArriving.value = performance.now() - newLineAtMs < ARRIVING_MS;
  const lacksFields = next.fields.length < known.length;
  isSettling.value = performance.now() < settlesAtMs && (lacksFields || next.readingsPerS === 0);
  if (!isSettling.value) settlesAtMs = 0;
  incoming.value = isSettling.value && lacksFields ? { ...next, fields: known } : next;
  if (next.shape !== null) {
    if (lastShape !== null && lastShape !== next.shape) formerShape.value = lastShape;
    lastShape = next.shape;
  }
  proposals = [...proposals, JSON.stringify(next.proposed)].slice(-STEADY_POLLS);
  isSteady.value = !isSettling.value && proposals.length === STEADY_POLLS && new Set(proposals).size === 1;
}

/**
 * Saves what the fields mean.
 * @throws ServiceProblem, `wrong-state` if it was changed elsewhere since the settings were read
 */
export async function saveMapping(roles: readonly Mapping[], unused: readonly string[]): Promise<void> {
  const before = settings.peek()?.roles ?? [];
  const next = await call('PUT /api/mapping', { body: { roles: [...roles], before, unused: [...unused] } });
  settlesAtMs = performance.now() + SETTLES_MS;
  await loadSettings();
  take(next);
}

/** The mean of what a field shows over the next few seconds; null = no line arrives, or it has no value. */
export async function meanOf(name: string): Promise<number | null> {
  const values: number[] = [];
  for (let i = 0; i < SAMPLES; i++) {
    if (i > 0) await new Promise((resolve) => setTimeout(resolve, SAMPLE_EVERY_MS));
    const { fields, readingsPerS } = await call('GET /api/incoming');
    const last = fields.find((field) => field.name === name)?.last ?? null;
    if (last !== null && readingsPerS > 0) values.push(last);
  }
  return values.length === 0 ? null : values.reduce((sum, value) => sum + value, 0) / values.length;
}
