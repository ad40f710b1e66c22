import type { SectionView, SpoolView } from '../../server/api/contract/runs-and-spools.ts';
import { KIND_TEXT } from '../format/names.ts';
import { counted, diameter, length, metres } from '../format/numbers.ts';
import { outerFirst, placed } from '../spool/section-order.ts';

const SHOWN = 12;

/** The bad stretches of each spool, in the order in which they come off, from the outer end. */
export function CutList({ spools, sections }: { spools: readonly SpoolView[]; sections: readonly SectionView[] }) {
  if (spools.length === 0) return null;
  return (
    <section aria-labelledby="cut-title">
      <h2 id="cut-title">What to cut</h2>
      {spools.map((spool) => {
        const cuts = outerFirst(placed(sections.filter((s) => s.spoolId === spool.id && s.verdict === 'discard')));
        return (
          <div key={spool.id} class="cut-spool">
            <p>
              <a href={`/spool/${spool.id}`}>Spool {spool.ordinal}</a>, {metres(spool.woundMm, 1)} m:{' '}
              {cuts.length === 0
                ? 'no bad stretch.'
                : `${counted(cuts.length, 'bad stretch', 'bad stretches')}, ${metres(spool.discardMm)} m from edge to edge.`}
              {spool.kept !== null &&
                (spool.kept.coils === 0
                  ? ' Nothing is left to keep.'
                  : ` The cut list keeps ${metres(spool.kept.keptMm)} m in ${counted(spool.kept.coils, 'coil')}.`)}
              {spool.cutOffMm > 0 && ` ${metres(spool.cutOffMm, 1)} m are cut off already.`}
              {spool.lengthFactor !== 1 &&
                ` By tape: all its lengths are ${spool.lengthFactor.toFixed(4)} times what the line counted; alarms use the line’s count.`}
            </p>
            {cuts.length > 0 && (
              <table class="cuts">
                <caption class="visually-hidden">Bad stretches of spool {spool.ordinal}, from the outer end</caption>
                <thead>
                  <tr>
                    <th scope="col">From the outer end</th>
                    <th scope="col">From the inner end</th>
                    <th scope="col">Length</th>
                    <th scope="col">Why</th>
                  </tr>
                </thead>
                <tbody>
                  {cuts.slice(0, SHOWN).map((cut) => (
                    <tr key={cut.id}>
                      <th scope="row">{metres(Math.max(0, spool.woundMm - cut.toSpoolMm))}&nbsp;m</th>
                      <td>{metres(Math.max(0, cut.fromSpoolMm))}&nbsp;m</td>
                      <td>{length(cut.toSpoolMm - cut.fromSpoolMm)}</td>
                      <td>
                        {KIND_TEXT[cut.kind]}
                        {cut.peakMm !== null && ` ${diameter(cut.peakMm)}\u00a0mm`}
                        {cut.note && `, ${cut.note}`}
                      </td>
                    </tr>
                  ))}
                </tbody>
              </table>
            )}
            {cuts.length > SHOWN && (
              <p class="fine">
                And {cuts.length - SHOWN} more on the <a href={`/spool/${spool.id}`}>spool’s page</a>.
              </p>
            )}
          </div>
        );
      })}
    </section>
  );
}
