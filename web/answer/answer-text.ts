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
      return `Acknowledged${answeredBy === null ? '' : ` by ${answeredBy}`}. Nobody else is called.`;
    case 'over':
      return drill ? 'This drill is over: the answer comes too late.' : '';
    case 'suppressed':
      return 'This alarm was put to rest, so it calls nobody: there is nothing to answer.';
    case 'raisedAgain': {
      const when = atMs === null ? '' : ` at ${clock(atMs)}`;
      return (
        `What your message told of is dealt with. The alarm happened again${when}, and this link does not answer that: ` +
        'the newer message does, or the live page.'
      );
    }
  }
}
