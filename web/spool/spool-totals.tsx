import type { MassView, SpoolJudgement } from '../../server/api/contract/judgement.ts';
import type { SpoolView } from '../../server/api/contract/runs-and-spools.ts';
import { counted, grams, gramsWithError, metres, percent } from '../format/numbers.ts';
import { Term } from '../terms/term.tsx';

/**
 * The strand on a spool, how much of it is bad, and how much cutting keeps. Bad strand is counted between the ends of its
 * sections, while a cut also takes margins, doubtful strand and short pieces.
 */
export function SpoolTotals(props: {
  readonly spool: SpoolView;
  /** null = the readings are still being read, so the mass is not known yet. */
  readonly judgement: SpoolJudgement | null;
}) {
  const { spool, judgement } = props;
  const { woundMm, cutOffMm: offMm, discardMm, doubtfulMm, unknownMm, kept } = spool;
  const mass = (share: number) => (judgement === null ? '' : grams(judgement.mass.grams * share));
  const massNow = ({ grams: g, gramsUncertainty }: MassView, share: number) =>
    gramsWithError(g * share, gramsUncertainty * share);
  const shareOf = (mm: number) => (woundMm > 0 ? mm / woundMm : 0);
  const goneMm = kept === null ? 0 : Math.max(0, woundMm - kept.keptMm);
  return (
    <dl class="totals">
      <div>
        <dt>On the spool</dt>
        <dd>
          <span class="big" data-testid="on-spool" data-mm={woundMm - offMm}>
            {metres(woundMm - offMm, 1)} m
          </span>
          <span class="fine">
            {judgement !== null &&
              `± ${metres(judgement.woundUncertaintyMm * (1 - shareOf(offMm)), 1)}\u00a0m, ${massNow(judgement.mass, 1 - shareOf(offMm))}`}
            {offMm > 0 && `; ${metres(offMm, 1)} m of ${metres(woundMm, 1)} m is cut off`}
          </span>
        </dd>
      </div>
      <div>
        <dt>
          <Term of="badStrand">Bad strand</Term>
        </dt>
        <dd>
          <span class="big" data-testid="discard-total" data-mm={discardMm}>
            {metres(discardMm)} m
          </span>
          <span class="fine">
            {[percent(shareOf(discardMm)), mass(shareOf(discardMm)), 'without margins'].filter(Boolean).join(', ')}
          </span>
        </dd>
      </div>
      <div>
        <dt>
          <Term of="doubtful">Doubtful</Term>
        </dt>
        <dd>
          <span class="big">{metres(doubtfulMm)} m</span>
        </dd>
      </div>
      <div>
        <dt>
          <Term of="notMeasured">Not measured</Term>
        </dt>
        <dd>
          <span class="big">{metres(unknownMm)} m</span>
        </dd>
      </div>
      {kept !== null && (
        <div>
          <dt>
            <Term of="cutList">Kept by the cut list</Term>
          </dt>
          <dd>
            <span class="big" data-testid="kept-total" data-mm={kept.keptMm}>
              {kept.keptMm > 0 ? `${metres(kept.keptMm, 1)} m` : 'nothing'}
            </span>
            <span class="fine">
              {kept.coils === 0
                ? 'no good piece is long enough'
                : goneMm < 1
                  ? 'nothing needs to be cut'
                  : `${mass(shareOf(kept.keptMm))} in ${counted(kept.coils, 'coil')}; ${metres(goneMm, 1)} m is cut away, with margins and short pieces`}
            </span>
          </dd>
        </div>
      )}
    </dl>
  );
}
