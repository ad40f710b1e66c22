import { describe, expect, it } from 'vitest';
import type { QuestionView } from '../../server/api/contract/answers.ts';
import { stateText } from '../../web/answer/answer-text.ts';

const asked = (more: Partial<QuestionView> = {}): QuestionView => ({
  kind: 'alarm',
  names: ['Ada'],
  state: 'open',
  title: 'Blob',
  text: 'Blob of 1.98 mm at 41.20 m of spool 1.',
  firstCheck: '',
  caution: '',
  atMs: new Date(2026, 1, 3, 2, 14).getTime(),
  occurrences: 1,
  answeredBy: null,
  priority: 'high',
  hasPicture: false,
  ...more,
});

describe('the page behind the link in a message', () => {
  it('says who answered', () => {
    expect(stateText(asked())).toBe('');
    expect(stateText(asked({ state: 'answered', answeredBy: 'Ben' }))).toBe(
      'Acknowledged by Ben. No one else is notified.',
    );
  });

  it('explains that an old message does not answer a later occurrence', () => {
    expect(stateText(asked({ state: 'raisedAgain' }))).toBe(
      'What your message reported is dealt with. But the alarm was raised again at 02:14. This link does not acknowledge that: use the newer message, or the live page.',
    );
  });

  it('shows that an alarm is silenced, and that an alarm test is over', () => {
    expect(stateText(asked({ state: 'suppressed' }))).toMatch(/is silenced/);
    expect(stateText(asked({ kind: 'drill', state: 'over' }))).toMatch(/too late/);
  });
});
