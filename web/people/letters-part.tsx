import type { LetterView, PeopleView } from '../../server/api/contract/people.ts';
import { Shape } from '../shell/shape.tsx';
import { clockWithSeconds, shortDay } from '../words/times.ts';
import { forgetDead } from './people-store.ts';
import { channelName, LETTER_STATES } from './people-words.ts';

/** What reached nobody, and what was sent of late. */
export function LettersPart({ view }: { view: PeopleView }) {
  const { deadLetters, recent } = view;
  if (recent.length === 0 && deadLetters.length === 0) return null;
  return (
    <section class="part" aria-labelledby="letters-title">
      <div class="part-words">
        <h2 id="letters-title">Messages</h2>
        <p>Each is tried again with growing pauses until it is taken, answered, or too old to be of use.</p>
      </div>
      <div>
        {deadLetters.length > 0 && (
          <>
            <h3>Reached nobody</h3>
            <Letters view={view} letters={deadLetters} />
            <p class="actions">
              <button type="button" onClick={() => forgetDead()}>
                I have read them
              </button>
            </p>
          </>
        )}
        {recent.length > 0 && (
          <details open={deadLetters.length === 0 && recent.length < 6}>
            <summary>The last {recent.length}</summary>
            <Letters view={view} letters={recent} />
          </details>
        )}
      </div>
    </section>
  );
}

function Letters({ view, letters }: { view: PeopleView; letters: readonly LetterView[] }) {
  return (
    <ul class="letters">
      {letters.map((letter) => (
        <li key={letter.seq}>
          <Shape of={LETTER_SHAPES[letter.state]} size={16} />
          <p>
            <strong>{letter.title}</strong> to {letter.to} by {channelName(view, letter.channelId)}
            <span class="fine">
              {LETTER_STATES[letter.state]}
              {letter.attempts > 1 && `, attempt ${letter.attempts}`}
              {letter.why === '' ? '.' : `. ${letter.why}`}
            </span>
          </p>
          <time class="quiet">
            {shortDay(letter.createdMs)} {clockWithSeconds(letter.createdMs)}
          </time>
        </li>
      ))}
    </ul>
  );
}

const LETTER_SHAPES = {
  waiting: 'notice',
  delivered: 'calm',
  expired: 'abnormal',
  refused: 'abnormal',
  withdrawn: 'calm',
} as const;
