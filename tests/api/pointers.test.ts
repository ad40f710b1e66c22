import { afterAll, beforeAll, describe, expect, it, test } from 'vitest';
import type { ProblemView } from '../../server/api/contract/problem.ts';
import { startTestService, type TestService } from './test-service.ts';

let service: TestService;
beforeAll(async () => {
  service = await startTestService('simulator:evening');
});
afterAll(() => service.stop());

const PRINTER = { name: 'Finch', hotendLimitMm: 1.9, smallestFeedableMm: 1.6, toleranceMm: 0.05, note: '' };
const HOOK = { kind: 'webhook', url: 'https://chat.example/x', secret: '', template: '' };
const PERSON = { name: 'Ada', channelIds: [], leastPriority: 'low', quiet: null, round: 1 };
const MAPPED = { name: 'dia', role: 'd', factor: 1, offset: 0 };

async function refusal(method: string, path: string, body?: unknown): Promise<ProblemView> {
  const reply = await service.send(method, path, body);
  const view = reply.body as ProblemView;
  expect(reply.status, JSON.stringify(view)).toBe(view.status);
  expect(view.type).toBe(`urn:strandward:problem:${view.code}`);
  return view;
}

describe('a refusal by the schema', () => {
  it.each<[string, string, string, unknown, string | null, string, string]>([
    [
      'a field that is missing',
      'POST',
      '/api/printers',
      { ...PRINTER, hotendLimitMm: undefined },
      '/hotendLimitMm',
      '“hotendLimitMm” is missing in the body.',
      'Give “hotendLimitMm”, a number.',
    ],
    [
      'a wrong type in a nested field',
      'POST',
      '/api/people',
      { ...PERSON, quiet: { from: '22:00', to: 630 } },
      '/quiet/to',
      "“quiet › to” can't be 630.",
      'Give a text.',
    ],
    [
      'a wrong type in a list',
      'POST',
      '/api/people',
      { ...PERSON, channelIds: [1, 'two'] },
      '/channelIds/1',
      "“channelIds › 1” can't be “two”.",
      'Give a whole number.',
    ],
    [
      'a misspelt field',
      'POST',
      '/api/printers',
      { ...PRINTER, hotEndLimitMm: 1.9 },
      '/hotEndLimitMm',
      '“hotEndLimitMm” is not known here.',
      'Known fields: name, hotendLimitMm, smallestFeedableMm, toleranceMm, note.',
    ],
    [
      'a misspelt field of the query',
      'GET',
      '/api/log?limits=5',
      undefined,
      '/limits',
      '“limits” is not known here.',
      'Known fields: limit.',
    ],
    [
      'a number out of bounds in the query',
      'GET',
      '/api/log?limit=0',
      undefined,
      '/limit',
      "“limit” can't be 0.",
      'Give 1 or more.',
    ],
    [
      'a word that is none of the few',
      'POST',
      '/api/stage',
      { stage: 'flying' },
      '/stage',
      "“stage” can't be “flying”.",
      'Give one of stopped, heating, purging, winding.',
    ],
    [
      'a field of the form that was meant',
      'POST',
      '/api/channels',
      { name: 'Chat', settings: { ...HOOK, kind: 'mqtt' } },
      '/settings/address',
      '',
      '',
    ],
    [
      'a kind that there is not',
      'POST',
      '/api/channels',
      { name: 'Chat', settings: { ...HOOK, kind: 'pigeon' } },
      '/settings/kind',
      "“settings › kind” can't be “pigeon”.",
      'Give one of webhook, email, mqtt, push.',
    ],
    [
      'a value of another type than the few words',
      'PUT',
      '/api/spools/1/choices',
      { doubtful: 5 },
      '/doubtful',
      "“doubtful” can't be 5.",
      'Give one of keep, cut.',
    ],
    [
      'a field that may be null, and is missing',
      'POST',
      '/api/stage',
      {},
      '/stage',
      '“stage” is missing in the body.',
      'Give “stage”, one of stopped, heating, purging, winding, or null.',
    ],
    [
      'a missing object of several forms',
      'POST',
      '/api/channels',
      { name: 'Chat' },
      '/settings',
      '“settings” is missing in the body.',
      'Give “settings”, an object of names and values.',
    ],
    [
      'a missing word that says which form is meant',
      'POST',
      '/api/channels',
      { name: 'Chat', settings: { url: 'x' } },
      '/settings/kind',
      '“kind” is missing in “settings”.',
      'Give “kind”, one of webhook, email, mqtt, push.',
    ],
    [
      'a missing text',
      'PUT',
      '/api/runs/1/note',
      {},
      '/note',
      '“note” is missing in the body.',
      'Give “note”, a text.',
    ],
    ['a body that is missing', 'POST', '/api/stage', undefined, null, "The body can't be null.", ''],
    [
      'text that is too long',
      'PUT',
      '/api/runs/1/note',
      { note: 'x'.repeat(5001) },
      '/note',
      '“note” is too long.',
      '',
    ],
  ])('points to %s', async (_what, method, path, body, pointer, title, detail) => {
    const view = await refusal(method, path, body);
    expect(view).toMatchObject({ code: 'bad-request', status: 400, pointer });
    if (title !== '') expect(view.title).toBe(title);
    if (detail !== '') expect(view.detail).toBe(detail);
    expect(`${view.title} ${view.detail}`).not.toMatch(/must|undefined|anyOf|NaN/);
  });
});

describe('a mapping', () => {
  const temp = { name: 'temp', role: 't1', factor: 1, offset: 0 };
  const rolesNow = async () =>
    ((await service.send('GET', '/api/settings')).body as { settings: { roles: unknown[] } }).settings.roles;

  it.each<[string, object[], string, string, string]>([
    [
      'two roles on one name',
      [MAPPED, { ...temp, name: 'dia' }],
      '/roles/1/name',
      '“dia” is mapped twice.',
      'Map each name to one signal only.',
    ],
    [
      'one role on two names',
      [MAPPED, { ...MAPPED, name: 'w' }],
      '/roles/1/role',
      '“dia” and “w” are both mapped to d.',
      'use dx and dy',
    ],
    [
      'a diameter in °C',
      [{ ...MAPPED, unit: 'C' }],
      '/roles/0/unit',
      '“dia” is mapped to d, which cannot be in “C”.',
      'Choose one of these units: mm, in, mil, um, 0.01mm.',
    ],
    [
      'a temperature in mm',
      [{ ...temp, unit: 'mm' }],
      '/roles/0/unit',
      '“temp” is mapped to t1, which cannot be in “mm”.',
      'Choose one of these units: C, F, K, 0.1C, 0.01C.',
    ],
    [
      'a unit for what has one only',
      [{ ...temp, role: 'rpm', unit: 'C' }],
      '/roles/0/unit',
      '“temp” is mapped to rpm, which cannot be in “C”.',
      'Leave the unit out.',
    ],
  ])('with %s is refused, and nothing of it is saved', async (_what, roles, pointer, title, remedy) => {
    const view = await refusal('PUT', '/api/mapping', { roles, before: [] });
    expect(view).toMatchObject({ code: 'bad-setting', pointer, title });
    expect(view.detail).toContain(remedy);
    expect(await rolesNow()).toEqual([]);
  });

  it('keeps names in any script and with quotes as they are sent, and is refused if it was changed meanwhile', async () => {
    const roles = [
      { ...MAPPED, name: 'Диаметр' },
      { ...temp, name: `it's "hot" <b>` },
    ];
    expect((await service.send('PUT', '/api/mapping', { roles, before: [] })).status).toBe(200);
    expect(await rolesNow()).toEqual(roles);
    const view = await refusal('PUT', '/api/mapping', { roles: [], before: [] });
    expect(view).toMatchObject({
      code: 'wrong-state',
      title: 'The signals were changed on another device in the meantime.',
    });
    expect(await rolesNow()).toEqual(roles);
    await service.send('PUT', '/api/mapping', { roles: [], before: roles });
  });
});

it.each(['from=1e999&to=2', 'from=1&to=-1e999'])('names no infinity that was not sent: %s', async (query) => {
  const view = await refusal('GET', `/api/runs/1/window?axis=time&columns=5&signals=d&${query}`);
  expect([view.status, view.title]).toStrictEqual([400, expect.stringMatching(/^“(from|to)” can't be that large\.$/)]);
});

describe('a refusal by a check of meaning', () => {
  it.each<[string, object, string]>([
    ['out of bounds', { toleranceMm: 5 }, '/toleranceMm'],
    ['with a character that it cannot have', { pointedAt: ['adc:'] }, '/pointedAt/0'],
    ['that there is not', { tolerance: 0.05 }, '/tolerance'],
    ['in a row', { roles: [MAPPED, { ...MAPPED, factor: 'big' }] }, '/roles/1/factor'],
    ['with a factor of 0', { roles: [{ ...MAPPED, factor: 0 }] }, '/roles/0/factor'],
    ['mapped to no signal', { roles: [{ ...MAPPED, role: 'colour' }] }, '/roles/0/role'],
    ['above what it must be below', { smallestFeedableMm: 1.74 }, '/smallestFeedableMm'],
    ['that others do not fit to', { hotendLimitMm: 1.75 }, '/hotendLimitMm'],
    ['of another strand', { nominalMm: 1.9 }, '/nominalMm'],
    ['of a spool that holds nothing', { spoolCoreMm: 500 }, '/spoolCoreMm'],
  ])('points to a setting %s', async (_what, settings, pointer) => {
    expect(await refusal('PUT', '/api/settings', settings)).toMatchObject({ code: 'bad-setting', pointer });
  });

  it('points to a source that the page may not choose, even while one from the command line is used', async () => {
    const view = await refusal('PUT', '/api/settings', { source: 'file:/etc/passwd' });
    expect(view).toMatchObject({ code: 'source-unusable', pointer: '/source' });
    const free = await startTestService('simulator:steady', {}, undefined, null, { source: null });
    try {
      const reply = await free.send('PUT', '/api/settings', { source: 'file:/etc/passwd' });
      expect(reply).toMatchObject({ status: 422, body: { code: 'source-unusable', pointer: '/source' } });
    } finally {
      await free.stop();
    }
  });

  it.each([
    [{ toleranceMm: 'wide' }, 'The setting “toleranceMm” must be a number.'],
    [{ lineName: 5 }, 'The setting “lineName” must be a text.'],
    [{ zoneNames: 5 }, 'The setting “zoneNames” must be a list.'],
    [{ lineName: 'x'.repeat(500) }, 'The setting “lineName” can have at most 60 characters.'],
    [{ zoneNames: Array(100).fill('x') }, 'The setting “zoneNames” can have at most 8 entries.'],
    [{ shape: 'odd' }, /^The setting “shape” must be one of .*columns/],
  ])('says in words what a setting must be: %j', async (settings, title) => {
    expect((await refusal('PUT', '/api/settings', settings)).title).toMatch(title);
  });

  it('names the bound of a setting in words', async () => {
    const { title } = await refusal('PUT', '/api/settings', { toleranceMm: 5 });
    expect(title).toMatch(/^The setting “toleranceMm” must be [\d.]+ or less\.$/);
  });

  test.each<[string, string, string, unknown, string, string]>([
    ['a printer without a name', 'POST', '/api/printers', { ...PRINTER, name: ' ' }, 'bad-name', '/name'],
    [
      'a printer that passes less than the strand',
      'POST',
      '/api/printers',
      { ...PRINTER, hotendLimitMm: 1.7 },
      'bad-printer',
      '/hotendLimitMm',
    ],
    [
      'a printer that feeds what the line does not see',
      'POST',
      '/api/printers',
      { ...PRINTER, smallestFeedableMm: 0.4 },
      'bad-printer',
      '/smallestFeedableMm',
    ],
    [
      'a channel to nowhere',
      'POST',
      '/api/channels',
      { name: 'Chat', settings: { ...HOOK, url: 'chat' } },
      'bad-setting',
      '/settings/url',
    ],
    [
      'a template that is not whole',
      'POST',
      '/api/channels',
      { name: 'Chat', settings: { ...HOOK, template: '{"text": "{{text"}' } },
      'bad-template',
      '/settings/template',
    ],
    [
      'a person on no channel there is',
      'POST',
      '/api/people',
      { ...PERSON, channelIds: [9] },
      'unknown-channel',
      '/channelIds/0',
    ],
    [
      'quiet hours that are none',
      'POST',
      '/api/people',
      { ...PERSON, quiet: { from: '22:00', to: 'dawn' } },
      'bad-setting',
      '/quiet/to',
    ],
    ['an on-delay', 'PUT', '/api/alarm-types/blob', { onDelayS: -1 }, 'bad-setting', '/onDelayS'],
    ['an unknown field of an alarm', 'PUT', '/api/alarm-types/blob', { volume: 1 }, 'bad-setting', '/volume'],
    ['a journal that ends first', 'GET', '/api/alarm-journal?from=5&to=1', undefined, 'bad-window', '/to'],
    ['runs to compare with none', 'GET', '/api/comparison?groups=1', undefined, 'bad-comparison', '/groups'],
    [
      'a printer to compare for',
      'GET',
      '/api/comparison?groups=1;2&printer=9',
      undefined,
      'unknown-printer',
      '/printer',
    ],
  ])('points to %s', async (_what, method, path, body, code, pointer) => {
    expect(await refusal(method, path, body)).toMatchObject({ code, pointer });
  });

  it.each([
    ['DELETE', '/api/people/99', undefined, 'There is no person 99.'],
    ['POST', '/api/devices', { name: 'Phone' }, 'There is neither a code nor an access key.'],
  ])('says in words of the page what is missing: %s %s', async (method, path, body, title) => {
    expect((await refusal(method, path, body)).title).toBe(title);
  });

  it('has no pointer if no field is wrong', async () => {
    expect(await refusal('GET', '/api/runs/99')).toMatchObject({ code: 'unknown-run', pointer: null });
  });
});
