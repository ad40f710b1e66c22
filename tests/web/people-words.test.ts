import { describe, expect, it } from 'vitest';
import { forEars } from '../../web/attention/speech.ts';
import { drillInWords, orderInWords, wantsInWords } from '../../web/people/people-words.ts';
import { routeOf } from '../../web/shell/router.ts';

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
  round,
});

describe('the words of the page People', () => {
  it('say who is called in which order', () => {
    expect(orderInWords({ contacts: [], rules })).toMatch(/Nobody is told/);
    expect(orderInWords({ contacts: [contact('Ada', 1, [])], rules })).toMatch(/Nobody is told/);
    const contacts = [contact('Cleo', 3), contact('Ada', 1), contact('Ben', 1)];
    expect(orderInWords({ contacts, rules })).toBe(
      'Ada and Ben are called at once; Cleo when nobody has answered for 5 min.',
    );
  });

  it('say what somebody is told of, and when', () => {
    const quiet = { from: '22:00', to: '06:30' };
    expect(wantsInWords({ leastPriority: 'medium', quiet })).toBe(
      'Medium and high priority; from 22:00 to 06:30 high priority only, the rest afterwards.',
    );
  });

  it('say who was reached by a drill', () => {
    const person = (name: string, confirmedMs: number | null) => ({ contactId: 1, name, confirmedMs });
    const drill = { id: 1, startedMs: 0, by: 'Ada', untilMs: 600_000, letters: [] };
    const words = (outcome: 'nobody' | 'some' | 'everybody' | 'waiting', confirmed: (number | null)[]) =>
      drillInWords({ ...drill, outcome, people: confirmed.map((at, i) => person(['Ada', 'Ben'][i]!, at)) }, 0);
    expect(words('nobody', [null, null])).toMatch(/^Nobody was reached/);
    expect(words('some', [1, null])).toBe('Ada confirmed. Ben did not.');
    expect(words('everybody', [1, 1])).toBe('Everybody was reached: Ada and Ben.');
    expect(words('waiting', [1, null])).toBe('Waiting for Ben, 10 min more.');
  });

  it('are said aloud with their units', () => {
    expect(forEars('Blob of 1.98 mm at 41.20 m of spool 1, for 14 s.')).toBe(
      'Blob of 1.98 millimetres at 41.20 metres of spool 1, for 14 seconds.',
    );
  });

  it('have addresses of their own', () => {
    expect(routeOf('/people')).toEqual({ page: 'people' });
    expect(routeOf('/answer/a1-2-00ff')).toEqual({ page: 'answer', token: 'a1-2-00ff' });
  });
});
