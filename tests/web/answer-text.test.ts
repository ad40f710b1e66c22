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
      'Acknowledged by Ben. Nobody else is called.',
    );
  });

  it('explains that an old message does not answer a later occurrence', () => {
    expect(stateText(asked({ state: 'raisedAgain' }))).toBe(
      'What your message told of is dealt with. The alarm happened again at 02:14, and this link does not answer that: the newer message does, or the live page.',
    );
  });

  it('shows that an alarm is silenced, and that an alarm test is over', () => {
    expect(stateText(asked({ state: 'suppressed' }))).toMatch(/put to rest/);
    expect(stateText(asked({ kind: 'drill', state: 'over' }))).toMatch(/too late/);
  });
});
