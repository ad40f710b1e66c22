import type { SpoolJudgement } from '../../server/api/spool-contract.ts';
import { PrinterSelect } from '../printers/printer-select.tsx';
import { Shape } from '../shell/shape.tsx';
import { metres, unbroken } from '../words/numbers.ts';
import { FITNESS_SHAPE, flowSetting } from './fitness-words.ts';

/** The verdict in one sentence, for the chosen printer, and why. */
export function VerdictHead({ judgement }: { judgement: SpoolJudgement }) {
  const { verdict, flow } = judgement;
  const clean = verdict.longestCleanPiece;
  return (
    <section class="verdict-head" aria-label="Verdict" data-testid="spool-verdict" data-fitness={verdict.fitness}>
      <p class="verdict-sentence" aria-live="polite">
        <Shape of={FITNESS_SHAPE[verdict.fitness]} size={26} />
        <strong>{unbroken(verdict.sentence)}</strong>
      </p>
      <div class="verdict-more">
        <ul class="reasons">
          {verdict.reasons.map((reason) => (
            <li key={reason}>{unbroken(reason)}</li>
          ))}
          {clean && (
            <li>
              Longest clean piece: <b>{metres(clean.lengthMm, 1)}&nbsp;m</b>, from {metres(clean.fromMm, 1)} to{' '}
              {metres(clean.toMm, 1)}&nbsp;m.
            </li>
          )}
          {flow && (
            <li>
              Set the printer’s flow to <b>{flowSetting(flow.setting)}</b>.
            </li>
          )}
          {judgement.winding && <li>It is still being wound: all of this is as of now.</li>}
        </ul>
        <p class="verdict-acts">
          <PrinterSelect label="Judged for" />
          <a class="button main no-print" href={`/spool/${judgement.spoolId}/rewind`}>
            Cut it at the rewinder
          </a>
          <a class="button no-print" href={`/spool/${judgement.spoolId}/label`}>
            Label
          </a>
        </p>
      </div>
    </section>
  );
}

/** Holds the verdict's place while the spool is judged, so that nothing below moves under a hand that marks a stretch. */
export function VerdictComing() {
  return (
    <section class="verdict-head" aria-label="Verdict" aria-busy="true">
      <p class="verdict-sentence quiet">Judging the spool …</p>
    </section>
  );
}
