import { useRef, useState } from 'preact/hooks';
import { STAGES, type Stage } from '../../server/stage/stage.ts';
import { STAGE_TEXT } from '../format/names.ts';
import { metres } from '../format/numbers.ts';
import { span } from '../format/times.ts';
import { LotLine } from '../lot/lot-line.tsx';
import { call } from '../service/call.ts';
import { lineNowMs, live } from '../service/live-store.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { may } from '../service/session.ts';
import { showNotice } from '../shell/notice.tsx';
import { ProblemNote } from '../shell/problem-note.tsx';

const setStage = (stage: Stage | null) => call('POST /api/stage', { body: { stage } });

/** The stage of the line, what is missing for the next one, and the buttons to set it. */
export function StagePanel() {
  const state = live.value;
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const dialog = useRef<HTMLDialogElement>(null);
  if (!state) return null;
  const { stage, spool, run, spoolToContinue, proposedSpoolChange } = state;

  const send = async (request: Promise<unknown>, done: string) => {
    try {
      await request;
      setProblem(null);
      showNotice({ text: done });
    } catch (thrown) {
      setProblem(asProblem(thrown));
    }
  };
  const allowed = may('act');
  const here = STAGES.indexOf(stage.stage);

  return (
    <section
      class="stage"
      aria-labelledby="stage-title"
      data-testid="stage"
      data-stage={stage.stage}
      data-by={stage.setByUser ? 'person' : 'itself'}
    >
      <header class="section-head">
        <h2 id="stage-title">Stage</h2>
        <span class="fine">
          {STAGE_TEXT[stage.stage].toLowerCase()} for {span(lineNowMs.value - stage.sinceMs)},{' '}
          {stage.setByUser ? 'set by hand' : 'detected'}
        </span>
      </header>
      <fieldset class="stages" aria-label="Set the stage" disabled={!allowed}>
        {STAGES.map((one, i) => (
          <button
            key={one}
            type="button"
            class={i < here ? 'passed' : ''}
            aria-pressed={one === stage.stage}
            onClick={() => send(setStage(one), `Stage: ${STAGE_TEXT[one].toLowerCase()}, by hand.`)}
          >
            {STAGE_TEXT[one]}
          </button>
        ))}
      </fieldset>
      {stage.stage !== 'winding' &&
        (stage.missing.length === 0 ? (
          // A stopped line is not about to wind, whatever its zones report.
          stage.stage !== 'stopped' && <p class="ready">Ready to wind.</p>
        ) : (
          <div class="missing">
            <p>Before winding:</p>
            <ul>
              {stage.missing.map((one) => (
                <li key={one}>{one}</li>
              ))}
            </ul>
          </div>
        ))}
      {spoolToContinue && allowed && (
        <div class="missing" data-testid="spool-to-continue">
          <p>
            Is this strand still going onto spool {spoolToContinue.ordinal} ({metres(spoolToContinue.woundMm, 1)} m)? If
            so, the {metres(spoolToContinue.sinceMm, 1)} m measured since it ended will be added and judged.{' '}
            {spool === null && 'If not, a new spool starts once the strand has settled.'}
          </p>
          <p class="actions">
            <button
              type="button"
              class="main"
              onClick={() => send(call('POST /api/spools/continue'), `Spool ${spoolToContinue.ordinal} continues.`)}
            >
              Continue spool {spoolToContinue.ordinal}
            </button>
          </p>
        </div>
      )}
      {proposedSpoolChange && allowed && (
        <div class="missing" data-testid="proposed-spool-change">
          <p>
            The winder’s turn counter started again at 0 at {metres(proposedSpoolChange.atSpoolMm, 1)} m of spool{' '}
            {proposedSpoolChange.ordinal}. Was the spool changed there?
          </p>
          <p class="actions">
            <button
              type="button"
              class="main"
              onClick={() =>
                send(
                  call('POST /api/spools/:id/split', {
                    params: { id: proposedSpoolChange.spoolId },
                    body: { atGaugeMm: proposedSpoolChange.atGaugeMm },
                  }),
                  `Spool ${proposedSpoolChange.ordinal + 1} starts there.`,
                )
              }
            >
              Start spool {proposedSpoolChange.ordinal + 1} there
            </button>
            <button
              type="button"
              onClick={() =>
                send(call('DELETE /api/spools/proposed-change'), `Still spool ${proposedSpoolChange.ordinal}.`)
              }
            >
              Same spool
            </button>
          </p>
        </div>
      )}
      {problem && <ProblemNote problem={problem} />}
      <p class="actions">
        {stage.setByUser && allowed && (
          <button type="button" onClick={() => send(setStage(null), 'The stage is detected automatically again.')}>
            Detect automatically
          </button>
        )}
        {spool && allowed && (
          <button type="button" onClick={() => dialog.current?.showModal()}>
            New spool …
          </button>
        )}
      </p>
      {run && <LotLine key={run.id} runId={run.id} lot={run.lot} />}
      {spool && (
        <dialog ref={dialog} class="dialog" aria-labelledby="new-spool-title">
          <h2 id="new-spool-title">Start spool {spool.ordinal + 1}?</h2>
          <p class="dialog-lead">
            Spool {spool.ordinal} ends with {metres(spool.woundMm, 1)} m on it. What passes the winder from now on
            counts from the inner end of spool {spool.ordinal + 1}.
          </p>
          <p class="actions">
            <button
              type="button"
              class="main"
              onClick={() => {
                dialog.current?.close();
                void send(call('POST /api/spools/change'), `Spool ${spool.ordinal + 1} begins.`);
              }}
            >
              Start the new spool
            </button>
            <button type="button" onClick={() => dialog.current?.close()}>
              Keep this spool
            </button>
          </p>
        </dialog>
      )}
    </section>
  );
}
