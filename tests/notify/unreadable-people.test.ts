/** People, channels and rules that cannot be read: pages say who is not notified, until they have been entered again or removed. */
import { rmSync } from 'node:fs';
import { join } from 'node:path';
import Sqlite from 'better-sqlite3';
import { afterEach, beforeEach, expect, it } from 'vitest';
import type { LiveState } from '../../server/api/contract/live-state.ts';
import type { PeopleView } from '../../server/api/contract/people.ts';
import { NEW_CONTACT } from '../../server/escalation/contact.ts';
import { DEFAULT_RULES } from '../../server/escalation/escalation-rules.ts';
import { DATABASE_FILE } from '../../server/store/database.ts';
import { orderText } from '../../web/people/people-text.ts';
import { MUTE, startTestService, type TestService } from '../api/test-service.ts';
import { newRecord } from '../store/new-record.ts';
import { HttpReceiver } from './http-receiver.ts';

let dataFolder: string;
let http: HttpReceiver;
let service: TestService;
const chat = () => ({
  name: 'Chat',
  settings: { kind: 'webhook', url: http.url, secret: '', template: '' },
});

const start = async () => {
  service = await startTestService(MUTE, {}, undefined, null, { dataFolder });
};
const people = () => service.get<PeopleView>('/api/people');
const state = () => service.get<LiveState>('/api/state');
const damageAlarm = async () => (await state()).alarms.find(({ type }) => type === 'recordDamaged')?.sentence;

/** Kim is notified over Chat, Ada over Mail; then a row is damaged while the service is stopped. */
async function damaged(sql: string): Promise<void> {
  await start();
  const { body } = await service.send('POST', '/api/channels', chat());
  const more = { ...chat(), name: 'Second chat' };
  const second = (await service.send('POST', '/api/channels', more)).body as { id: number };
  const channelIds = [(body as { id: number }).id];
  const { status } = await service.send('POST', '/api/people', { ...NEW_CONTACT, name: 'Kim', channelIds });
  expect(status).toBe(201);
  await service.send('POST', '/api/people', { ...NEW_CONTACT, name: 'Ada', channelIds: [second.id], round: 2 });
  await service.send('PUT', '/api/escalation-rules', { ...DEFAULT_RULES, pageAddress: 'http://192.0.2.7:8080' });
  await service.stop();
  const db = new Sqlite(join(dataFolder, DATABASE_FILE));
  db.exec(sql);
  db.close();
  await start();
  service.start();
}

beforeEach(async () => {
  dataFolder = newRecord('strandward-people-');
  http = await new HttpReceiver().start();
});
afterEach(async () => {
  await service.stop();
  await http.stop();
  rmSync(dataFolder, { recursive: true, force: true });
});

it('says that a channel cannot be read and whom nothing reaches, and uses it again once it is entered again', async () => {
  await damaged(`UPDATE channel SET settings = '{' WHERE name = 'Chat'`);
  const text =
    'The channel “Chat” cannot be read, so nothing is sent over it. Enter it again by the same name, or remove it.';
  const before = await people();
  expect(before.notificationProblems).toStrictEqual([text, 'No channel leads to Kim.']);
  expect((await state()).notificationProblems).toStrictEqual(before.notificationProblems);
  expect(orderText(before)).toBe('Ada is notified at once.');
  expect(before.unreadable).toMatchObject([{ kind: 'channel', name: 'Chat' }]);
  await expect.poll(damageAlarm).toContain('damaged. The channel “Chat” cannot be read');

  const again = (await service.send('POST', '/api/channels', chat())).body as { id: number };
  const after = await people();
  expect([after.notificationProblems, after.unreadable]).toStrictEqual([[], []]);
  expect(after.contacts.find(({ name }) => name === 'Kim')!.channelIds).toStrictEqual([again.id]);
  expect(orderText(after)).toContain('Kim is notified at once');
});

it('removes a channel that cannot be read', async () => {
  await damaged(`UPDATE channel SET settings = '{"kind":"pigeon"}' WHERE name = 'Chat'`);
  const { id } = (await people()).unreadable[0]!;
  expect((await service.send('DELETE', `/api/channels/${id}`)).status).toBe(204);
  expect((await people()).notificationProblems).toStrictEqual(['No channel leads to Kim.']);
  expect((await service.send('DELETE', `/api/channels/${id}`)).status).toBe(404);
});

it.each([
  [`'{"name":"Kim","channelIds":['`, 'The entry of Kim cannot be read, so Kim is not notified.'],
  [`'x'`, 'The entry of a person cannot be read, so they are not notified.'],
])('says that a person cannot be read: %s', async (payload, text) => {
  await damaged(`UPDATE contact SET payload = ${payload} WHERE id = 1`);
  const before = await people();
  expect(before.notificationProblems).toStrictEqual([expect.stringContaining(text)]);
  expect(before.notificationProblems[0]).toMatch(/Enter it again, and remove the one that cannot be read\.$/);
  expect(before.contacts.map(({ name }) => name)).toStrictEqual(['Ada']);
  await expect.poll(damageAlarm).toContain('cannot be read');
  const { id, kind } = before.unreadable[0]!;
  expect(kind).toBe('person');
  expect((await service.send('DELETE', `/api/people/${id}`)).status).toBe(204);
  expect((await people()).notificationProblems).toStrictEqual([]);
});

it('says that the rules cannot be read, until they are saved again', async () => {
  await damaged(`UPDATE escalation_rules SET payload = '{'`);
  const { notificationProblems, rules } = await people();
  expect(notificationProblems).toStrictEqual([
    'The rules of notification cannot be read, so the defaults apply. Enter yours again.',
  ]);
  expect(rules.pageAddress).toBe('');
  await service.send('PUT', '/api/escalation-rules', { ...DEFAULT_RULES, pageAddress: 'http://192.0.2.7:8080' });
  expect((await people()).notificationProblems).toStrictEqual([]);
});
