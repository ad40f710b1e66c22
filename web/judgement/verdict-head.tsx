import type { SpoolJudgement } from '../../server/api/contract/judgement.ts';
import type { SpoolView } from '../../server/api/contract/runs-and-spools.ts';
import { metres, unbroken } from '../format/numbers.ts';
import { PrinterSelect } from '../printers/printer-select.tsx';
import { Needs } from '../shell/needs.tsx';
import { Shape } from '../shell/shape.tsx';
import { Term } from '../terms/term.tsx';
import { fitnessWord, flowSetting } from './fitness-text.ts';

/** As long as what the judgement adds, so that its arrival moves nothing: the share within tolerance, and the flow. */
const COMING = ['97.5 % of what was measured lies within ±0.05 mm.', 'The flow is −4.0 % off: set it to 104.2 %.'];
/** Reasons that may come while a spool is wound: bad, doubtful, not measured. */
const REASONS_TO_COME = 3;

/**
 * The verdict for the printer that is chosen for the spool, with its reasons. `judgement` adds the figures from all readings;
 * null = they are still being read.
 */
export function VerdictHead(props: {
  readonly spool: SpoolView;
  readonly judgement: SpoolJudgement | null;
  readonly choosePrinter: (id: number) => void;
}) {
  const { spool, judgement, choosePrinter } = props;
  const { verdict } = spool;
  if (verdict === null)
    return (
      <section class="verdict-head" aria-label="Verdict" data-testid="spool-verdict" data-fitness="none">
        <p class="verdict-sentence">Nothing is on this spool yet.</p>
      </section>
    );
  const clean = verdict.longestCleanPiece;
  const flow = judgement?.flow ?? null;
  const winding = spool.endedMs === null;
  const { text, shape } = fitnessWord(verdict.fitness, spool.endedMs);
  const isEarly = winding && verdict.fitness === 'notFit';
  const reasons = judgement?.verdict?.reasons ?? verdict.reasons;
  const isKnown = (reason: string) => verdict.reasons.includes(reason);
  const figures = reasons.filter((reason) => !isKnown(reason));
  // Room for what more strand adds, so that its arrival does not move the ribbon under the pointer.
  const lines = winding ? REASONS_TO_COME + (clean ? 1 : 0) + 1 + COMING.length : 0;
  return (
    <section
      class={`verdict-head${winding ? ' winding' : ''}`}
      aria-label="Verdict"
      data-testid="spool-verdict"
      data-fitness={verdict.fitness}
    >
      <p class="verdict-sentence" aria-live="polite">
        <Shape of={shape} size={26} />
        <strong>
          {unbroken(isEarly ? `${text}: no good piece of ${spool.name} is long enough yet.` : verdict.sentence)}
        </strong>
      </p>
      <div class="verdict-more">
        <ul class="reasons" style={{ '--lines': lines }}>
          {reasons.filter(isKnown).map((reason) => (
            <li key={reason}>{unbroken(reason)}</li>
          ))}
          {clean && (
            <li>
              <Term of="cleanPiece">Longest clean piece</Term>: <b>{metres(clean.lengthMm, 1)}&nbsp;m</b>, from{' '}
              {metres(clean.fromMm, 1)} to {metres(clean.toMm, 1)}&nbsp;m.
            </li>
          )}
          {judgement === null &&
            COMING.map((text) => (
              <li key={text} class="reason-coming" aria-hidden="true">
                {unbroken(text)}
              </li>
            ))}
          {figures.map((reason) => (
            <li key={reason}>{unbroken(reason)}</li>
          ))}
          {/* A flow that is visibly off is among the figures. */}
          {flow && figures.length < COMING.length && (
            <li>
              Set the printer’s <Term of="flow">flow</Term> to <b>{flowSetting(flow.flowMultiplier)}</b>.
            </li>
          )}
          {winding && <li>It is still being wound: these are the figures so far.</li>}
        </ul>
        <p class="verdict-actions">
          <Needs right="act" quiet>
            <PrinterSelect label="Judged for" value={spool.choices.printerId} choose={choosePrinter} />
          </Needs>
          <a class="button main no-print" href={`/spool/${spool.id}/rewind`}>
            Cut it at the rewinder
          </a>
          <a class="button no-print" href={`/spool/${spool.id}/label`}>
            Label
          </a>
        </p>
      </div>
    </section>
  );
}
