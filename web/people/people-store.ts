import { signal } from '@preact/signals';
import type { ChannelInput, ContactInput, PeopleView, RulesInput } from '../../server/api/people-contract.ts';
import { request } from '../service/request.ts';

/** How people are reached, as the service last told; null = not fetched yet. */
export const people = signal<PeopleView | null>(null);

/** @throws ServiceProblem */
export async function loadPeople(signal?: AbortSignal): Promise<void> {
  people.value = await request<PeopleView>('GET', '/api/people', undefined, signal);
}

async function change(method: 'POST' | 'PUT' | 'DELETE', path: string, body?: unknown): Promise<void> {
  await request(method, path, body);
  await loadPeople();
}

const at = (path: string, id: number | null) => (id === null ? path : `${path}/${id}`);
const how = (id: number | null) => (id === null ? 'POST' : 'PUT');

/** Each adds where `id` is null. @throws ServiceProblem */
export const saveChannel = (id: number | null, input: ChannelInput) => change(how(id), at('/api/channels', id), input);
export const removeChannel = (id: number) => change('DELETE', `/api/channels/${id}`);
export const testChannel = (id: number | null, input: ChannelInput) =>
  change('POST', '/api/channels/test', { ...input, id });
export const saveContact = (id: number | null, input: ContactInput) => change(how(id), at('/api/people', id), input);
export const removeContact = (id: number) => change('DELETE', `/api/people/${id}`);
export const saveRules = (input: RulesInput) => change('PUT', '/api/calling-rules', input);
export const forgetDead = () => change('DELETE', '/api/dead-letters');
export const startDrill = () => change('POST', '/api/drills');
export const confirmDrill = (id: number, contactId: number) =>
  change('POST', `/api/drills/${id}/confirm`, { contactId });
