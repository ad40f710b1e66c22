import type { QuestionView } from '../../server/api/contract/answers.ts';
import { clock } from '../format/times.ts';

/** What has become of the alarm or alarm test; '' = it still waits for an answer. */
export function stateText({ kind, state, answeredBy, atMs }: QuestionView): string {
  const drill = kind === 'drill';
  switch (state) {
    case 'open':
      return '';
    case 'answered':
      if (drill) return 'Confirmed. Thank you: the alarm reaches you.';
      return `Acknowledged${answeredBy === null ? '' : ` by ${answeredBy}`}. No one else is notified.`;
    case 'over':
      return drill ? 'This alarm test is over: your answer is too late.' : '';
    case 'suppressed':
      return 'This alarm is silenced, so there is nothing to answer.';
    case 'raisedAgain': {
      const when = atMs === null ? '' : ` at ${clock(atMs)}`;
      return (
        `What your message reported is dealt with. But the alarm was raised again${when}. This link does not acknowledge that: ` +
        'use the newer message, or the live page.'
      );
    }
  }
}
