import { useState } from 'preact/hooks';
import { STAGES, type Stage } from '../../server/stage/stage.ts';
import { STAGE_TEXT } from '../format/names.ts';
import { metres } from '../format/numbers.ts';
import { span } from '../format/times.ts';
import { LotLine } from '../lot/lot-line.tsx';
import { call } from '../service/call.ts';
import { lineNowMs, live } from '../service/live-store.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { may } from '../service/session.ts';
import { AskFirst } from '../shell/ask-first.tsx';
import { showNotice } from '../shell/notice.tsx';
import { ProblemNote } from '../shell/problem-note.tsx';
import { WantedAmount } from './wanted-amount.tsx';

/** The service ends a run only a minute after it was stopped. */
const UNDO_FOR_MS = 60_000;

const setStage = (stage: Stage | null) => call('POST /api/stage', { body: { stage } });

/** The stage of the line, what is missing for the next one, and the buttons to set it. */
export function StagePanel() {
  const state = live.value;
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const [asking, setAsking] = useState<Stage | 'newSpool' | null>(null);
  if (!state) return null;
  const { stage, spool, run, spoolToContinue, proposedSpoolChange } = state;

  const send = async (request: Promise<unknown>, text: string, undo?: () => void) => {
    try {
      await request;
      setProblem(null);
      showNotice({ text, undo, forMs: undo && UNDO_FOR_MS });
    } catch (thrown) {
      setProblem(asProblem(thrown));
    }
  };
  const allowed = may('act');
  const press = (next: Stage) => {
    const done = `Stage set to ${STAGE_TEXT[next].toLowerCase()}.`;
    const before = stage.setByUser ? stage.stage : null;
    const undo = () => {
      if (spool !== null) return void send(call('POST /api/spools/continue'), `Spool ${spool.ordinal} continues.`);
      const now = live.peek()?.stage;
      if (now?.stage !== next || !now.setByUser)
        return showNotice({ text: 'Not undone: the stage has been changed since then.' });
      void send(setStage(before), 'Undone: the stage is as it was.');
    };
    void send(setStage(next), next === 'stopped' && run ? `${done} The run ends in a minute.` : done, undo);
  };
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
            onClick={() => (one !== 'winding' && (spool || (run && one === 'stopped')) ? setAsking(one) : press(one))}
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
      {stage.soakSkipped !== null && (
        <div class="missing" data-testid="soak-skipped">
          <p>{stage.soakSkipped}</p>
        </div>
      )}
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
          <button type="button" onClick={() => setAsking('newSpool')}>
            New spool…
          </button>
        )}
      </p>
      <WantedAmount key={`wanted ${spool?.id}`} spool={spool} />
      {run && <LotLine key={run.id} runId={run.id} lot={run.lot} />}
      {asking === 'newSpool' && spool && (
        <AskFirst
          title={`Start spool ${spool.ordinal + 1}?`}
          yes="Start the new spool"
          no="Keep this spool"
          answer={(yes) => {
            setAsking(null);
            if (yes) void send(call('POST /api/spools/change'), `Spool ${spool.ordinal + 1} starts.`);
          }}
        >
          Spool {spool.ordinal} ends with {metres(spool.woundMm, 1)} m on it. What passes the winder from now on counts
          from the inner end of spool {spool.ordinal + 1}.
        </AskFirst>
      )}
      {asking !== null && asking !== 'newSpool' && (
        <AskFirst
          title={`Set the stage to ${STAGE_TEXT[asking].toLowerCase()}?`}
          yes={asking === 'stopped' ? 'End the run' : 'End the spool'}
          no="Keep it going"
          answer={(yes) => {
            setAsking(null);
            if (yes) press(asking);
          }}
        >
          {spool ? `Spool ${spool.ordinal} ends with ${metres(spool.woundMm, 1)} m on it` : 'The run ends'}
          {spool && asking === 'stopped' && ', and the run ends with it'}. You can undo this for a minute.
        </AskFirst>
      )}
    </section>
  );
}
