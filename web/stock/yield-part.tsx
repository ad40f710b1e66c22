import { counted, percent } from '../format/numbers.ts';
import { call } from '../service/call.ts';
import { useAnswer } from '../service/use-answer.ts';
import { ProblemNote } from '../shell/problem-note.tsx';
import { ScrollTable } from '../shell/scroll-table.tsx';

/** How much of the material fed became good strand, by preparation. */
export function YieldPart() {
  const { view, problem } = useAnswer(() => call('GET /api/yields'));
  return (
    <section aria-labelledby="yield-title">
      <h2 id="yield-title">Yield</h2>
      {problem && <ProblemNote problem={problem} />}
      {view && view.rows.length === 0 && (
        <p class="quiet">
          Weigh what you feed, and enter “Material fed” under <a href="/preparation">Material and preparation</a>.
        </p>
      )}
      {view && view.rows.length > 0 && (
        <ScrollTable label="Material fed, strand wound and strand kept, by preparation">
          <table class="stock-figures" data-testid="yields">
            <thead>
              <tr>
                <th scope="col">Material and preparation</th>
                <th scope="col">Runs</th>
                <th scope="col">Fed, kg</th>
                <th scope="col">Wound, kg</th>
                <th scope="col">Good, kg</th>
                <th scope="col">Good of fed</th>
              </tr>
            </thead>
            <tbody>
              {view.rows.map((row) => (
                <tr key={row.preparation}>
                  <th scope="row">{row.preparation || <span class="quiet">not entered</span>}</th>
                  <td>
                    {row.runIds.length === 1 ? (
                      <a href={`/runs/${row.runIds[0]}`}>run {row.runIds[0]}</a>
                    ) : (
                      counted(row.runIds.length, 'run')
                    )}
                  </td>
                  <td>{row.fedKg.toFixed(2)}</td>
                  <td>{row.woundKg.toFixed(2)}</td>
                  <td>{row.goodKg.toFixed(2)}</td>
                  <td>{row.isImpossible ? 'more wound than fed: check the figures' : percent(row.goodShare)}</td>
                </tr>
              ))}
            </tbody>
          </table>
        </ScrollTable>
      )}
    </section>
  );
}
