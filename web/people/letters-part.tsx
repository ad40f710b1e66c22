import type { LetterView, PeopleView } from '../../server/api/people-contract.ts';
import { ScrollTable } from '../judgement/scroll-table.tsx';
import { clockWithSeconds, shortDay } from '../words/times.ts';
import { forgetDead } from './people-store.ts';
import { LETTER_STATES } from './people-words.ts';

/** What reached nobody, and what was sent of late. */
export function LettersPart({ view }: { view: PeopleView }) {
  const { deadLetters, recent } = view;
  if (recent.length === 0 && deadLetters.length === 0) return null;
  return (
    <section class="people-part" aria-labelledby="letters-title">
      <div class="set-words">
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
  const nameOf = (id: number) =>
    view.channels.find((channel) => channel.id === id)?.name ?? 'a channel that was removed';
  return (
    <ScrollTable label="Messages">
      <table>
        <thead>
          <tr>
            <th scope="col">When</th>
            <th scope="col">What</th>
            <th scope="col">To</th>
            <th scope="col">What became of it</th>
          </tr>
        </thead>
        <tbody>
          {letters.map((letter) => (
            <tr key={letter.seq}>
              <td class="when">
                {shortDay(letter.createdMs)} {clockWithSeconds(letter.createdMs)}
              </td>
              <td>{letter.title}</td>
              <td>
                {letter.to} by {nameOf(letter.channelId)}
              </td>
              <td>
                {LETTER_STATES[letter.state]}
                {letter.attempts > 1 && `, attempt ${letter.attempts}`}
                {letter.why !== '' && `. ${letter.why}`}
              </td>
            </tr>
          ))}
        </tbody>
      </table>
    </ScrollTable>
  );
}
