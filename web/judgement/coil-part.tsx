import { useEffect, useState } from 'preact/hooks';
import type { CoilDetail } from '../../server/api/contract/cut-plan.ts';
import { diameter, gramsWithError, metresWithError, percent } from '../format/numbers.ts';
import { call } from '../service/call.ts';
import { asProblem, isAbort, type ServiceProblem } from '../service/request.ts';
import { ProblemNote } from '../shell/problem-note.tsx';
import { ScrollTable } from '../shell/scroll-table.tsx';
import { Term } from '../terms/term.tsx';
import { signedPercent } from './fitness-text.ts';

/** Rows that are not folded on a screen. */
const SHOWN = 6;

/** The coils of the cut list with their figures. A new `stamp` requests them again. */
export function CoilPart({ spoolId, stamp }: { spoolId: number; stamp: unknown }) {
  const [coils, setCoils] = useState<readonly CoilDetail[] | null>(null);
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const [all, setAll] = useState(false);
  useEffect(() => {
    const controller = new AbortController();
    call('GET /api/spools/:id/coils', { params: { id: spoolId }, signal: controller.signal }).then(
      (answer) => {
        setCoils(answer);
        setProblem(null);
      },
      (thrown) => {
        if (!isAbort(thrown)) setProblem(asProblem(thrown));
      },
    );
    return () => controller.abort();
  }, [spoolId, stamp]);
  if (problem) return <ProblemNote problem={problem} />;
  if (!coils) return null;
  if (coils.length === 0) {
    return (
      <p class="quiet">
        No coil would be left that is long enough. <a href={`/spool/${spoolId}/rewind`}>Choose a shorter one</a>
      </p>
    );
  }
  const rows = coils.map(({ coil, statistics, flow }) => (
    <tr key={coil.ordinal}>
      <th scope="row">
        <b>{coil.name}</b>
        {coil.state === 'cut' && <span class="quiet"> cut</span>}
      </th>
      <td>{metresWithError(coil.lengthMm, coil.lengthUncertaintyMm)}</td>
      <td>{coil.grams === null ? '–' : gramsWithError(coil.grams, coil.gramsUncertainty ?? 0)}</td>
      <td>{statistics ? `${diameter(statistics.meanMm)} ± ${diameter(statistics.sdMm)}` : '–'}</td>
      <td>{statistics ? percent(statistics.withinTolerance) : '–'}</td>
      <td>{flow ? signedPercent(flow.mean) : '–'}</td>
    </tr>
  ));
  return (
    <>
      <ScrollTable label="Coils">
        <table class="coil-table">
          <caption>Coils after cutting, in the order in which they come off</caption>
          <thead>
            <tr>
              <th scope="col" aria-label="Coil">
                <Term of="coil">Coil</Term>
              </th>
              <th scope="col">Length</th>
              <th scope="col">Mass</th>
              <th scope="col" aria-label="Mean ± σ, mm">
                <Term of="sigma">Mean ± σ, mm</Term>
              </th>
              <th scope="col">Within tolerance</th>
              <th scope="col" aria-label="Flow error">
                <Term of="flow">Flow error</Term>
              </th>
            </tr>
          </thead>
          <tbody>{rows.slice(0, SHOWN)}</tbody>
          <tbody class={all ? '' : 'only-print'}>{rows.slice(SHOWN)}</tbody>
        </table>
      </ScrollTable>
      {rows.length > SHOWN && !all && (
        <button type="button" class="plain no-print" data-testid="more-coils" onClick={() => setAll(true)}>
          {rows.length - SHOWN} more
        </button>
      )}
    </>
  );
}
