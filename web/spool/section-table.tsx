import { useState } from 'preact/hooks';
import type { SpoolDetail } from '../../server/api/contract/runs-and-spools.ts';
import { DECISION_TEXT, doubtText, sectionName, sectionTone, VERDICT_TEXT } from '../format/names.ts';
import { diameter, length, metres, stretchText } from '../format/numbers.ts';
import { Shape } from '../shell/shape.tsx';
import { DismissedList } from './dismissed-list.tsx';
import { type Order, ordered, type PlacedSection } from './section-order.ts';
import type { SpoolModel } from './spool-model.ts';

const FIRST = 12;

/** The place that its alarm reported, if it differs from the start of the section. */
function worstAt({ peakSpoolMm, fromSpoolMm }: PlacedSection): string {
  return peakSpoolMm === null || metres(peakSpoolMm) === metres(fromSpoolMm)
    ? ''
    : `, worst at ${metres(peakSpoolMm)} m`;
}

/** Every section of the spool, worst first or by metre. */
export function SectionTable({
  model,
  sections,
  dismissed,
  nominalMm,
}: {
  model: SpoolModel;
  sections: readonly PlacedSection[];
  dismissed: SpoolDetail['dismissed'];
  nominalMm: number;
}) {
  const [order, setOrder] = useState<Order>('worst');
  const [all, setAll] = useState(false);
  const rows = ordered(sections, order, nominalMm) as PlacedSection[];
  const shown = all ? rows : rows.slice(0, FIRST);
  return (
    <section class="sections" aria-labelledby="sections-title">
      <header class="section-head">
        <h2 id="sections-title">Marked stretches</h2>
        {rows.length > 1 && (
          <fieldset class="switch">
            <legend class="visually-hidden">Order</legend>
            {(['worst', 'metre'] as const).map((one) => (
              <label key={one}>
                <input type="radio" name="order" checked={order === one} onChange={() => setOrder(one)} />
                <span>{one === 'worst' ? 'Worst first' : 'By metre'}</span>
              </label>
            ))}
          </fieldset>
        )}
      </header>
      {rows.length === 0 ? (
        <p class="quiet">None: the whole spool is good.</p>
      ) : (
        <ul class="section-list">
          {shown.map((one) => (
            <li
              key={one.id}
              class={`section-row ${one.verdict}${model.draft.value?.id === one.id ? ' chosen' : ''}`}
              data-testid="section-row"
              data-section={one.id}
              data-kind={one.kind}
              data-from-mm={one.fromSpoolMm}
              data-to-mm={one.toSpoolMm}
              data-verdict={one.verdict}
              data-origin={one.origin}
            >
              <button
                type="button"
                class="section-open"
                disabled={one.kind === 'joint'}
                onClick={() => model.adjust(one)}
              >
                <Shape of={sectionTone(one)} size={16} />
                <span class="section-what">
                  {sectionName(one)}
                  {one.peakMm !== null && ` ${diameter(one.peakMm)} mm`}
                  {doubtText(one)}
                </span>
                <span class="section-where">{stretchText(one.fromSpoolMm, one.toSpoolMm)}</span>
                <span class="section-more">
                  {one.kind === 'joint'
                    ? `${length(one.toGaugeMm - one.fromGaugeMm)} cut out before the winder`
                    : `${VERDICT_TEXT[one.verdict]}, ${length(one.toSpoolMm - one.fromSpoolMm)}`}
                  {worstAt(one)}
                  {one.decision === 'left' && `, ${DECISION_TEXT.left.toLowerCase()}`}
                  {one.origin === 'adjusted' && one.decision === null && ', adjusted'}
                  {one.open && ', still growing'}
                  {one.note && `: ${one.note}`}
                </span>
              </button>
              {one.decision !== null && (
                <button
                  type="button"
                  class="plain"
                  aria-label={`Undo: ${DECISION_TEXT[one.decision].toLowerCase()} at ${metres(one.fromSpoolMm)} m`}
                  onClick={() => model.undoDecision(one)}
                >
                  Undo
                </button>
              )}
              <button
                type="button"
                class="plain"
                hidden={one.kind === 'joint'}
                aria-label={`${one.origin === 'user' ? 'Remove' : 'Dismiss'} ${sectionName(one)} at ${metres(one.fromSpoolMm)} m`}
                onClick={() => model.remove(one)}
              >
                {one.origin === 'user' ? 'Remove' : 'Dismiss'}
              </button>
            </li>
          ))}
        </ul>
      )}
      {rows.length > shown.length && (
        <button type="button" class="plain" onClick={() => setAll(true)}>
          Show all {rows.length}
        </button>
      )}
      <DismissedList
        dismissed={dismissed}
        place={({ fromSpoolMm, toSpoolMm }) => stretchText(fromSpoolMm, toSpoolMm)}
        changed={() => void model.load()}
      />
    </section>
  );
}
