import { useEffect, useState } from 'preact/hooks';
import type { CutPlanView, CutStepView } from '../../server/api/contract/cut-plan.ts';
import type { SpoolDetail } from '../../server/api/contract/runs-and-spools.ts';
import { counted, metres, metresWithError, unbroken } from '../format/numbers.ts';
import { addressOf } from '../service/address.ts';
import { call } from '../service/call.ts';
import { refetchVersion } from '../service/live-store.ts';
import { asProblem, isAbort, type ServiceProblem } from '../service/request.ts';
import { ProblemNote } from '../shell/problem-note.tsx';
import { ScrollTable } from '../shell/scroll-table.tsx';
import { PlanWarnings } from './plan-warnings.tsx';
import { doubtText, errorText } from './step-text.ts';

/** The steps still to do as a sheet of paper, with a box for each. */
export default function CutListPage({ spoolId }: { spoolId: number }) {
  const [answer, setAnswer] = useState<{ plan: CutPlanView; detail: SpoolDetail } | null>(null);
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const version = refetchVersion.value;
  useEffect(() => {
    const controller = new AbortController();
    const request = { params: { id: spoolId }, signal: controller.signal };
    Promise.all([call('GET /api/spools/:id/cut-plan', request), call('GET /api/spools/:id', request)]).then(
      ([plan, detail]) => setAnswer({ plan, detail }),
      (thrown) => {
        if (!isAbort(thrown)) setProblem(asProblem(thrown));
      },
    );
    return () => controller.abort();
  }, [spoolId, version]);
  if (!answer) return problem ? <ProblemNote problem={problem} /> : <p class="quiet">Planning the cuts …</p>;
  const { plan, detail } = answer;
  const params = { id: spoolId };
  return (
    <article class="cut-list">
      <header class="page-head">
        <h1>Cut list for {detail.spool.code}</h1>
        <p>
          {plan.steps.length === 0
            ? 'Everything is cut.'
            : `${counted(plan.steps.length, 'step')} from the outer end, which comes off first.`}
          {plan.done.length > 0 && ` ${counted(plan.done.length, 'step')} done.`} Zero the counter at every cut.
        </p>
      </header>
      <p class="actions no-print">
        <button type="button" class="main" onClick={() => print()}>
          Print
        </button>
        <a class="button" href={addressOf('GET /api/spools/:id/cut-plan/csv', { params })} download>
          CSV
        </a>
        <a
          class="button"
          href={addressOf('GET /api/spools/:id/cut-plan', { params })}
          download={`${detail.spool.code} cut list.json`}
        >
          JSON
        </a>
        <a class="button" href={`/spool/${spoolId}/rewind`}>
          Step by step
        </a>
      </p>
      <PlanWarnings plan={plan} />
      {plan.steps.length > 0 && <StepTable plan={plan} />}
      {plan.coils.length > 0 && (
        <p>
          Coils:{' '}
          {plan.coils
            .map(({ name, lengthMm, lengthUncertaintyMm }) =>
              onOneLine(`${name}, ${metresWithError(lengthMm, lengthUncertaintyMm)}`),
            )
            .join('; ')}
          .
        </p>
      )}
      <p class="fine">
        Strand under tension can whip when it is cut: hold both ends, cut away from yourself, and wear eye protection.
      </p>
    </article>
  );
}

/** A name is not broken at its hyphen, nor from its length. */
function onOneLine(text: string): string {
  return text.replaceAll('-', '\u2011').replaceAll(' ', '\u00a0');
}

function StepTable({ plan }: { plan: CutPlanView }) {
  return (
    <ScrollTable label="Steps">
      <table class="cut-list-table">
        <thead>
          <tr>
            <th scope="col">Step</th>
            <th scope="col" class="num">
              Unwind
            </th>
            <th scope="col">Then</th>
            <th scope="col">Piece</th>
            <th scope="col">Look for</th>
            <th scope="col" class="num">
              Counted
            </th>
          </tr>
        </thead>
        <tbody>
          {plan.steps.map((step) => (
            <tr key={step.ordinal} class={step.action} data-testid="cut-list-step">
              <th scope="row">
                <span class="tick-box" aria-hidden="true" /> {plan.done.length + step.ordinal}
              </th>
              <td class="num">
                <b>{metres(step.countedMm)}&nbsp;m</b>
                <br />
                <span class="fine">± {errorText(step.countErrorMm)}</span>
              </td>
              <td>{step.cutAfter ? 'cut' : 'to the core'}</td>
              <td>
                {step.action === 'discard' ? (
                  'discard'
                ) : (
                  <>
                    keep: <b>{step.coil}</b>
                  </>
                )}
              </td>
              <td>
                {lookFor(step).map((line) => (
                  <p key={line}>{line}</p>
                ))}
              </td>
              <td class="num">
                <span class="write-in" aria-hidden="true" /> m
              </td>
            </tr>
          ))}
        </tbody>
      </table>
    </ScrollTable>
  );
}

/** A line for each, so that they can be ticked off by eye as they pass. */
function lookFor(step: CutStepView): string[] {
  return [...step.landmarks.map(({ sentence }) => unbroken(sentence)), doubtText(step.doubts)].filter(
    (text) => text !== '',
  );
}
