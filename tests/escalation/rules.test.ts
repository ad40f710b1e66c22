import { describe, expect, it } from 'vitest';
import type { ChannelSettings } from '../../server/escalation/channel.ts';
import { destination, withoutSecrets } from '../../server/escalation/channel.ts';
import { checkChannel } from '../../server/escalation/check-channel.ts';
import { checkContact } from '../../server/escalation/check-contact.ts';
import { quietUntil } from '../../server/escalation/contact.ts';
import { confirmed, type Drill, drillDue, outcomeOf } from '../../server/escalation/drill.ts';
import { checkRules, DEFAULT_RULES } from '../../server/escalation/escalation-rules.ts';
import { pauseAfter } from '../../server/escalation/outbox-entry.ts';
import { PLACEHOLDERS, parseTemplate } from '../../server/escalation/template.ts';
import { contactOf, NIGHT_MS } from './alarms.ts';

const at = (iso: string) => Date.parse(iso);

describe('quiet hours', () => {
  const night = { from: '22:00', to: '06:30' };

  it('cross midnight and end in local time', () => {
    expect(quietUntil(night, at('2026-03-02T21:59:30Z'), 'UTC')).toBeNull();
    expect(quietUntil(night, at('2026-03-02T22:00:00Z'), 'UTC')).toBe(at('2026-03-03T06:30:00Z'));
    expect(quietUntil(night, at('2026-03-03T06:29:59Z'), 'UTC')).toBe(at('2026-03-03T06:30:00Z'));
    expect(quietUntil(night, at('2026-03-03T06:30:00Z'), 'UTC')).toBeNull();
    // 21:30 UTC is 22:30 in Vienna in winter.
    expect(quietUntil(night, at('2026-03-02T21:30:00Z'), 'Europe/Vienna')).toBe(at('2026-03-03T05:30:00Z'));
  });

  // Vienna: 29 March 2026 02:00 → 03:00, 25 October 2026 03:00 → 02:00 (Directive 2000/84/EC). Lord Howe: by half an hour. Santiago:
  // 6 September 2026 00:00 → 01:00.
  it.each([
    ['Europe/Vienna', '22:00', '06:30', '2026-03-28T21:30:00Z', '2026-03-29T04:30:00Z'],
    ['Europe/Vienna', '22:00', '06:30', '2026-10-24T20:30:00Z', '2026-10-25T05:30:00Z'],
    // An end that the clock skips is when it goes forward; one that it shows twice is the first.
    ['Europe/Vienna', '22:00', '02:30', '2026-03-28T21:30:00Z', '2026-03-29T01:00:00Z'],
    ['Europe/Vienna', '22:00', '02:30', '2026-03-29T00:50:00Z', '2026-03-29T01:00:00Z'],
    ['Europe/Vienna', '22:00', '02:30', '2026-10-24T20:30:00Z', '2026-10-25T00:30:00Z'],
    ['Europe/Vienna', '22:00', '02:30', '2026-10-25T01:10:00Z', '2026-10-25T01:30:00Z'],
    ['Europe/Vienna', '22:00', '21:59', '2026-03-28T21:30:00Z', '2026-03-29T19:59:00Z'],
    ['Australia/Lord_Howe', '22:00', '06:30', '2026-10-03T12:00:00Z', '2026-10-03T19:30:00Z'],
    ['Australia/Lord_Howe', '22:00', '06:30', '2026-04-04T11:00:00Z', '2026-04-04T20:00:00Z'],
    ['America/Santiago', '22:00', '00:30', '2026-09-06T02:30:00Z', '2026-09-06T04:00:00Z'],
    ['Asia/Kolkata', '22:00', '06:30', '2026-10-24T16:30:00Z', '2026-10-25T01:00:00Z'],
    ['America/St_Johns', '22:00', '06:30', '2026-03-08T01:30:00Z', '2026-03-08T09:00:00Z'],
  ])('follow the clock of %s, also when it changes: %s to %s, from %s on', (zone, from, to, evening, end) => {
    expect(new Date(quietUntil({ from, to }, at(evening), zone) ?? 0).toISOString()).toBe(end.replace('Z', '.000Z'));
    expect(quietUntil({ from, to }, at(end) - 1, zone)).toBe(at(end));
    // The second half past two of Vienna is quiet again.
    if (end !== '2026-10-25T00:30:00Z') expect(quietUntil({ from, to }, at(end), zone)).toBeNull();
  });

  it('may be within one day', () => {
    const noon = { from: '12:00', to: '14:00' };
    expect(quietUntil(noon, at('2026-03-02T13:00:00Z'), 'UTC')).toBe(at('2026-03-02T14:00:00Z'));
    expect(quietUntil(noon, at('2026-03-02T01:00:00Z'), 'UTC')).toBeNull();
  });
});

describe('pauses', () => {
  it('grow from a second to two minutes, or up to an hour on request', () => {
    expect([1, 2, 3, 4, 8, 50].map((n) => pauseAfter(n, null, 'low'))).toEqual([
      1000, 2000, 4000, 8000, 120_000, 120_000,
    ]);
    expect(pauseAfter(1, 30_000, 'low')).toBe(30_000);
    expect(pauseAfter(8, 30_000, 'low')).toBe(120_000);
    expect(pauseAfter(1, 90_000_000, 'low')).toBe(3_600_000);
    // An urgent message waits no longer, whatever the receiver requests.
    expect(pauseAfter(1, 90_000_000, 'high')).toBe(120_000);
    expect(pauseAfter(50, null, 'high')).toBe(120_000);
  });
});

describe('templates', () => {
  const values = Object.fromEntries(Object.keys(PLACEHOLDERS).map((name) => [name, `<${name}>`])) as Record<
    keyof typeof PLACEHOLDERS,
    string
  >;

  it('fill the message into JSON, and stay valid whatever it contains', () => {
    const template = parseTemplate('{"text": "{{title}}: {{ text }}", "to": ["{{line}}"], "n": 3}');
    const nasty = { ...values, title: '"}\n\\{{text}}', text: '</script>\u2028' };
    expect(JSON.parse(template.fill(nasty))).toEqual({
      text: '"}\n\\{{text}}: </script>\u2028',
      to: ['<line>'],
      n: 3,
    });
  });

  it.each([
    ['{"text": "{{text}}"', /not valid JSON/],
    ['{"text":\n  {{text}} }', /line 2/],
    ['"{{text}}"', /not a JSON object/],
    ['{"text": "{{txt}}"}', /unknown placeholder “txt”/],
    ['{"text": "{{text"}', /has no matching \}\}/],
    ['{"text": "alarm"}', /contains no placeholder/],
    [`${'['.repeat(3990)}"{{text}}"${']'.repeat(3990)}`, /more than 32 levels/],
  ])('are refused: %j', (source, text) => {
    expect(() => parseTemplate(source)).toThrow(
      expect.objectContaining({ code: 'bad-template', message: expect.stringMatching(text) }),
    );
  });
});

const email: Extract<ChannelSettings, { kind: 'email' }> = {
  kind: 'email',
  host: 'smtp.example',
  port: 587,
  security: 'starttls',
  user: 'line',
  password: 'pa55word',
  from: 'line@example.org',
  to: 'ada@example.org, ben@example.org',
  certificate: '',
};
const mqtt: ChannelSettings = {
  kind: 'mqtt',
  address: 'mqtt://192.0.2.7',
  user: '',
  password: '',
  baseTopic: 'workshop/strandward',
  certificate: '',
};

describe('channels', () => {
  it('are refused with a reason', () => {
    checkChannel(email);
    checkChannel(mqtt);
    checkChannel({ ...mqtt, address: 'mqtts://broker.example:8883/' });
    const wrong: [ChannelSettings, RegExp][] = [
      [{ ...email, to: 'ada@' }, /“ada@” is not an e-mail address/],
      [{ ...email, host: 'https://smtp.example' }, /not the name of a mail server/],
      [{ ...email, user: '' }, /no user name/],
      [{ ...email, password: '' }, /no password/],
      [{ ...email, security: 'none' }, /unencrypted/],
      [{ ...mqtt, address: 'http://192.0.2.7' }, /not valid/],
      [{ ...mqtt, address: 'mqtt://192.0.2.7:0' }, /port 0/],
      [{ ...mqtt, address: 'mqtt://192.0.2.7:1883#x' }, /after the “#”/],
      [{ ...mqtt, address: 'mqtts://192.0.2.7/workshop' }, /path/],
      [{ ...mqtt, address: 'mqtt://192.0.2.7?keepalive=3' }, /query/],
      [{ ...mqtt, password: 'word' }, /no user name/],
      [{ ...mqtt, baseTopic: 'a/#' }, /topics/],
      [{ ...mqtt, baseTopic: '/a' }, /topics/],
      [{ kind: 'webhook', url: 'ftp://chat.example/x', secret: '', template: '' }, /not valid/],
      [{ kind: 'webhook', url: 'https://chat.example/x#y', secret: '', template: '' }, /after the “#”/],
      [{ kind: 'webhook', url: 'https://chat.example:0/x', secret: '', template: '' }, /port 0/],
      [{ kind: 'webhook', url: 'https://chat.example/x', secret: '', template: '{' }, /not valid JSON/],
      [{ kind: 'push', endpoint: 'https://push.example/x', p256dh: 'AAAA', auth: 'AAAA' }, /incomplete/],
    ];
    for (const [settings, text] of wrong) expect(() => checkChannel(settings)).toThrow(text);
  });

  it('never show a secret', () => {
    const url = 'https://chat.example/hooks/T0/s3cr3t-token?key=abcd';
    const webhook: ChannelSettings = { kind: 'webhook', url, secret: 'signingkey', template: '' };
    expect(destination(webhook)).toBe('chat.example');
    expect(destination(email)).toBe(`${email.to}, through ${email.host}`);
    const text = `POST ${url} and /hooks/T0/s3cr3t-token failed with signingkey`;
    expect(withoutSecrets(text, webhook)).not.toMatch(/s3cr3t|abcd|signingkey/);
    expect(withoutSecrets('535 pa55word was wrong', email)).toBe('535 … was wrong');
  });
});

describe('people and rules', () => {
  it('are refused with a reason', () => {
    const { id: _, ...ada } = contactOf(1, 'Ada');
    const others = [contactOf(2, 'Ben')];
    const channels = new Set([10]);
    expect(checkContact({ ...ada, name: ' Ada ' }, others, channels).name).toBe('Ada');
    expect(() => checkContact({ ...ada, name: ' ' }, others, channels)).toThrow(/no name/);
    expect(() => checkContact({ ...ada, name: 'ben' }, others, channels)).toThrow(/already/);
    expect(() => checkContact({ ...ada, channelIds: [99] }, others, channels)).toThrow(/no channel 99/);
    expect(() => checkContact({ ...ada, quiet: { from: '24:00', to: '06:00' } }, others, channels)).toThrow(
      /not valid times/,
    );
    expect(() => checkContact({ ...ada, quiet: { from: '06:00', to: '06:00' } }, others, channels)).toThrow(
      /start and end at the same time/,
    );
    expect(() => checkRules({ ...DEFAULT_RULES, pageAddress: 'strandward.local' })).toThrow(/address of the page/);
    expect(() => checkRules({ ...DEFAULT_RULES, escalateAfterMin: 0 })).toThrow(/cannot be 0/);
    expect(() => checkRules({ ...DEFAULT_RULES, drill: { weekdays: [], at: '18:30' } })).toThrow(
      /alarm tests is incomplete/,
    );
    expect(checkRules({ ...DEFAULT_RULES, pageAddress: 'https://line.example/' }).pageAddress).toBe(
      'https://line.example',
    );
  });
});

describe('drills', () => {
  const drill: Drill = {
    id: 1,
    startedMs: NIGHT_MS,
    by: 'Ada',
    untilMs: NIGHT_MS + 600_000,
    people: [
      { contactId: 1, name: 'Ada', confirmedMs: null },
      { contactId: 2, name: 'Ben', confirmedMs: null },
    ],
  };

  it('show who was reached', () => {
    expect(outcomeOf(drill, NIGHT_MS)).toBe('waiting');
    expect(outcomeOf(drill, NIGHT_MS + 600_000)).toBe('none');
    const one = confirmed(drill, 2, NIGHT_MS + 1000);
    expect(outcomeOf(one, NIGHT_MS + 2000)).toBe('waiting');
    expect(outcomeOf(one, NIGHT_MS + 600_000)).toBe('some');
    expect(outcomeOf(confirmed(one, 1, NIGHT_MS + 3000), NIGHT_MS + 3000)).toBe('all');
    expect(confirmed(one, 2, NIGHT_MS + 9000)).toEqual(one);
  });

  it('start once at their time, and are skipped if the service was off then', () => {
    const schedule = { weekdays: [1], at: '18:30' };
    const due = (iso: string, last: string | null) =>
      drillDue(schedule, last === null ? null : at(last), at(iso), 'Europe/Vienna');
    expect(due('2026-03-02T17:29:59Z', null)).toBe(false);
    expect(due('2026-03-02T17:30:00Z', null)).toBe(true);
    expect(due('2026-03-02T17:30:01Z', '2026-03-02T17:30:00Z')).toBe(false);
    expect(due('2026-03-02T17:36:00Z', null)).toBe(false);
    expect(due('2026-03-03T17:30:00Z', null)).toBe(false);
    expect(due('2026-03-09T17:30:02Z', '2026-03-02T17:30:00Z')).toBe(true);
  });

  it('are due once in both nights when the clocks change', () => {
    const every = [0, 1, 2, 3, 4, 5, 6];
    const starts = (night: string, at: string): string[] => {
      const all: string[] = [];
      let last: number | null = null;
      // From local midnight, in steps of a second.
      for (let ms = Date.parse(`${night}T22:00:00Z`), s = 0; s < 6 * 3600; s++, ms += 1000) {
        if (!drillDue({ weekdays: every, at }, last, ms, 'Europe/Vienna')) continue;
        last = ms;
        all.push(new Date(ms).toISOString());
      }
      return all;
    };
    // Summer time ends on 25 October 2026 at 01:00 UTC, 03:00 there (Directive 2000/84/EC: the last Sunday of October).
    expect(starts('2026-10-24', '02:30')).toEqual(['2026-10-25T00:30:00.000Z']);
    expect(starts('2026-10-24', '02:00')).toEqual(['2026-10-25T00:00:00.000Z']);
    expect(starts('2026-10-24', '03:00')).toEqual(['2026-10-25T02:00:00.000Z']);
    // It starts on 29 March 2026 at 01:00 UTC, 02:00 there: there is no 02:30.
    expect(starts('2026-03-28', '02:30')).toEqual(['2026-03-29T01:00:00.000Z']);
    expect(starts('2026-03-28', '03:00')).toEqual(['2026-03-29T01:00:00.000Z']);
  });

  it('are due when the clock skips their time at midnight', () => {
    const schedule = { weekdays: [0], at: '00:30' };
    const due = (iso: string, last: string | null) =>
      drillDue(schedule, last === null ? null : at(last), at(iso), 'America/Santiago');
    // On 6 September 2026 the clock goes from 00:00 to 01:00, on 5 April from 00:00 to 23:00 of Saturday.
    expect(due('2026-09-06T03:59:59Z', null)).toBe(false);
    expect(due('2026-09-06T04:00:00Z', null)).toBe(true);
    expect(due('2026-09-06T04:00:01Z', '2026-09-06T04:00:00Z')).toBe(false);
    expect(due('2026-09-06T04:05:01Z', '2026-09-06T04:00:00Z')).toBe(false);
    expect(due('2026-04-05T04:29:59Z', null)).toBe(false);
    expect(due('2026-04-05T04:30:00Z', null)).toBe(true);
  });

  it('are due although the last one started while the clock was ahead', () => {
    const at = Date.parse('2026-03-02T17:30:00Z');
    const ahead = Date.parse('2031-01-01T00:00:00Z');
    expect(drillDue({ weekdays: [1], at: '18:30' }, ahead, at, 'Europe/Vienna')).toBe(true);
    expect(outcomeOf({ ...drill, startedMs: ahead, untilMs: ahead + 600_000 }, at)).toBe('none');
  });
});
