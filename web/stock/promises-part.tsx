import { FITNESS_SHAPE, FITNESS_TEXT } from '../judgement/fitness-text.ts';
import { call } from '../service/call.ts';
import { useAnswer } from '../service/use-answer.ts';
import { ProblemNote } from '../shell/problem-note.tsx';
import { ScrollTable } from '../shell/scroll-table.tsx';
import { Shape } from '../shell/shape.tsx';

/** What became of the prints, by the verdict on their strand. */
export function PromisesPart() {
  const { view, problem } = useAnswer(() => call('GET /api/promises'));
  const rows = view?.rows.filter((row) => row.jams !== null || row.notKnown > 0) ?? [];
  return (
    <section aria-labelledby="promises-title">
      <h2 id="promises-title">How prints turned out</h2>
      {problem && <ProblemNote problem={problem} />}
      {view && rows.length === 0 && (
        <p class="quiet">No print is noted yet. Scan the label of a coil, and note there how the print went.</p>
      )}
      {rows.length > 0 && (
        <ScrollTable label="What became of prints, by the verdict on their strand">
          <table class="stock-figures" data-testid="promises">
            <thead>
              <tr>
                <th scope="col">Verdict</th>
                <th scope="col">Printed well</th>
                <th scope="col">Jammed</th>
                <th scope="col">Flawed</th>
                <th scope="col">Not known</th>
                <th scope="col">Of 100 such prints, this many jam (95 %)</th>
              </tr>
            </thead>
            <tbody>
              {rows.map(({ called, printedWell, jammed, flawed, notKnown, jams }) => (
                <tr key={called}>
                  <th scope="row">
                    <span class="with-shape">
                      <Shape of={FITNESS_SHAPE[called]} size={18} />
                      <span>{FITNESS_TEXT[called]}</span>
                    </span>
                  </th>
                  <td>{printedWell}</td>
                  <td>{jammed}</td>
                  <td>{flawed}</td>
                  <td>{notKnown}</td>
                  <td>{jams === null ? '–' : `${Math.floor(jams.lower * 100)} to ${Math.ceil(jams.upper * 100)}`}</td>
                </tr>
              ))}
            </tbody>
          </table>
        </ScrollTable>
      )}
    </section>
  );
}
