import { useState } from 'preact/hooks';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { saveSettings } from '../service/settings.ts';
import { showNotice } from '../shell/notice.tsx';
import { ProblemNote } from '../shell/problem-note.tsx';
import { pointableNumbers } from './pointable-numbers.ts';

/** For lines whose words change all the time: the user says which numbers count, by the word before each. */
export function PointAtNumbers({ lines }: { lines: readonly string[] }) {
  const [chosen, setChosen] = useState<ReadonlySet<string>>(new Set());
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const numbers = pointableNumbers(lines);
  if (numbers.length === 0) return null;
  const save = () => {
    saveSettings({ pointedAt: [...chosen], shape: 'auto' }).then(
      () => showNotice({ text: 'Only these numbers are read from now on.' }),
      (thrown) => setProblem(asProblem(thrown)),
    );
  };
  return (
    <fieldset data-testid="point-at">
      <legend>Or say which numbers to read. The rest of each line is then left out.</legend>
      {numbers.map(({ word, number }) => (
        <label key={word} class="check">
          <input
            type="checkbox"
            checked={chosen.has(word)}
            onChange={({ currentTarget: { checked } }) => {
              const next = new Set(chosen);
              if (checked) next.add(word);
              else next.delete(word);
              setChosen(next);
            }}
          />
          <span>
            The number after <b>{word}</b>, now {number}
          </span>
        </label>
      ))}
      <p class="actions">
        <button type="button" class="main" disabled={chosen.size === 0} onClick={save}>
          Read {chosen.size === 1 ? 'this number' : 'these numbers'}
        </button>
      </p>
      {problem && <ProblemNote problem={problem} />}
    </fieldset>
  );
}
