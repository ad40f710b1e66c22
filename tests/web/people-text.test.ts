import { describe, expect, it } from 'vitest';
import type { PeopleView } from '../../server/api/contract/people.ts';
import { routeOf } from '../../server/entities/page-route.ts';
import { CONTACT_DEFAULTS } from '../../server/escalation/contact.ts';
import { parseTemplate } from '../../server/escalation/template.ts';
import { forEars } from '../../web/alerting/speech.ts';
import { deliveryText, drillText, filterText, notifiedText, orderText } from '../../web/people/people-text.ts';
import { presetOf, WEBHOOK_PRESETS } from '../../web/people/webhook-presets.ts';

const rules = {
  pageAddress: '',
  escalateAfterMin: 5,
  remindEveryMin: { high: 5, medium: 30, low: 0 },
  drill: null,
  drillAnswerWithinMin: 10,
  heartbeatAddress: null,
  heartbeatEveryS: 60,
};
const contact = (name: string, round: number, channelIds = [1]) => ({
  id: round,
  name,
  channelIds,
  leastPriority: 'low' as const,
  quiet: null,
  ...CONTACT_DEFAULTS,
  round,
});

describe('the texts of the page People', () => {
  it('say who is notified in which order', () => {
    expect(orderText({ contacts: [], rules })).toMatch(/^No one is notified/);
    expect(orderText({ contacts: [contact('Ada', 1, [])], rules })).toMatch(/^No one is notified/);
    const contacts = [contact('Cleo', 3), contact('Ada', 1), contact('Ben', 1)];
    expect(orderText({ contacts, rules })).toBe(
      'Ada and Ben are notified at once; Cleo if no one has acknowledged for 5 min.',
    );
  });

  it('say of what a person is notified, and when', () => {
    const quiet = { from: '22:00', to: '06:30' };
    expect(filterText({ leastPriority: 'medium', quiet, wakeAboveBlobsPerHour: 1, tellWhenReady: true })).toBe(
      'Medium and high priority; from 22:00 to 06:30 only what is worth getting up for, the rest afterwards. Woken for blobs: more than 1 an hour. Notified when the strand is ready to wind.',
    );
  });

  it('offer a template for each kind of chat, which the service accepts', () => {
    for (const { name, template } of WEBHOOK_PRESETS) {
      expect(presetOf(template)).toBe(name);
      if (template !== '') expect(() => parseTemplate(template)).not.toThrow();
    }
    expect(presetOf('{"text": "{{text}}"}')).toBeNull();
  });

  it('say whom an alarm test reached', () => {
    const person = (name: string, confirmedMs: number | null) => ({ contactId: 1, name, confirmedMs });
    const drill = { id: 1, startedMs: 0, by: 'Ada', untilMs: 600_000, messages: [] };
    const text = (outcome: 'none' | 'some' | 'all' | 'waiting', confirmed: (number | null)[]) =>
      drillText({ ...drill, outcome, people: confirmed.map((at, i) => person(['Ada', 'Ben'][i]!, at)) }, 0);
    expect(text('none', [null, null])).toMatch(/^No one was reached/);
    expect(text('some', [1, null])).toBe('Ada confirmed. Ben did not.');
    expect(text('all', [1, 1])).toBe('Everyone was reached: Ada and Ben.');
    expect(text('waiting', [1, null])).toBe('Waiting for Ben, 10 min more.');
  });

  it('report the delivery of an alarm test, also over a shared, removed or unreadable channel', () => {
    const message = (to: string, channelId: number, state: 'delivered' | 'expired' | 'waiting') => {
      const fields = {
        title: 'Alarm test',
        text: '',
        reason: '',
        kind: 'drill' as const,
        createdMs: 0,
        endedMs: null,
      };
      return { ...fields, seq: channelId, attempts: 1, to, channelId, state };
    };
    const messages = [
      message('Ada, Ben', 1, 'delivered'),
      message('Ada', 2, 'expired'),
      message('Ben', 3, 'waiting'),
      message('Ben', 4, 'waiting'),
    ];
    const drill = { id: 1, startedMs: 0, by: 'Ada', untilMs: 1, outcome: 'none' as const, people: [], messages };
    const channels = [1, 2].map((id) => ({ id, name: `Channel ${id}` }) as PeopleView['channels'][number]);
    const unreadable = [
      { kind: 'person', id: 3, name: 'Ada' },
      { kind: 'channel', id: 4, name: 'Chat' },
    ] as const;
    const view = { channels, unreadable: [...unreadable] };
    expect(deliveryText(drill, 'Ada', view)).toBe('Channel 1: delivered; Channel 2: given up: too late.');
    expect(deliveryText(drill, 'Ben', view)).toBe(
      'Channel 1: delivered; a channel that was removed: on its way; Chat: on its way.',
    );
    expect(deliveryText(drill, 'Cleo', view)).toBe('');
  });

  it('say after how long a person is notified, whatever rounds are skipped', () => {
    const contacts = [contact('Ada', 1), contact('Cleo', 3), contact('Dora', 2, [])];
    expect(contacts.map((one) => notifiedText(one, { contacts, rules }))).toEqual([
      'at once',
      'after 5 min without acknowledgement',
      'after 5 min without acknowledgement',
    ]);
  });

  it('are spoken with their units', () => {
    expect(forEars('Blob of 1.98 mm at 41.20 m of spool 1, for 14 s.')).toBe(
      'Blob of 1.98 millimetres at 41.20 metres of spool 1, for 14 seconds.',
    );
  });

  it('have their own addresses', () => {
    expect(routeOf('/people')).toEqual({ page: 'people' });
    expect(routeOf('/answer/a1-2-00ff')).toEqual({ page: 'answer', token: 'a1-2-00ff' });
  });
});
