import { signal } from '@preact/signals';
import type { ChannelInput } from '../../server/api/contract/channels.ts';
import type { ContactInput, PeopleView, RulesInput } from '../../server/api/contract/people.ts';
import { call } from '../service/call.ts';

/** People, channels and rules as last fetched; null = not fetched yet. */
export const people = signal<PeopleView | null>(null);

/** @throws ServiceProblem */
export async function loadPeople(signal?: AbortSignal): Promise<void> {
  people.value = await call('GET /api/people', signal && { signal });
}

async function change(request: Promise<unknown>): Promise<void> {
  await request;
  await loadPeople();
}

/** Changes are followed by a reload. `id` null = add a new one. @throws ServiceProblem */
export const saveChannel = (id: number | null, body: ChannelInput) =>
  change(id === null ? call('POST /api/channels', { body }) : call('PUT /api/channels/:id', { params: { id }, body }));
export const removeChannel = (id: number) => change(call('DELETE /api/channels/:id', { params: { id } }));
export const testChannel = (id: number | null, input: ChannelInput) =>
  change(call('POST /api/channels/test', { body: { ...input, id } }));
export const saveContact = (id: number | null, body: ContactInput) =>
  change(id === null ? call('POST /api/people', { body }) : call('PUT /api/people/:id', { params: { id }, body }));
export const removeContact = (id: number) => change(call('DELETE /api/people/:id', { params: { id } }));
export const saveRules = (body: RulesInput) => change(call('PUT /api/escalation-rules', { body }));
export const discardFailed = () => change(call('DELETE /api/failed-messages'));
export const startDrill = () => change(call('POST /api/drills'));
export const confirmDrill = (id: number, contactId: number) =>
  change(call('POST /api/drills/:id/confirm', { params: { id }, body: { contactId } }));
