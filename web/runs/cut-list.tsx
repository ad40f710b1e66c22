import { useState } from 'preact/hooks';
import type { DismissedView, SectionView, SpoolView } from '../../server/api/contract/runs-and-spools.ts';
import { doubtText, sectionName } from '../format/names.ts';
import { counted, diameter, length, metresText } from '../format/numbers.ts';
import { DismissedList } from '../spool/dismissed-list.tsx';
import { type AlikeSections, gathered, type PlacedSection, placed } from '../spool/section-order.ts';
import { RunRibbon } from './run-ribbon.tsx';

/** Rows that are not folded on a screen. */
const SHOWN = 5;
/** Lines of the lists that two sheets of paper have room for, with charts and figures. */
const LINES_ON_PAPER = 36;

interface Props {
  readonly spools: readonly SpoolView[];
  readonly sections: readonly SectionView[];
  readonly dismissed: readonly DismissedView[];
  /** Lines that other lists take on paper. */
  readonly otherLines: number;
  /** Called after a section was brought back. */
  readonly changed: () => void;
}

/** The bad and doubtful stretches of each spool, in the order in which they come off, from the outer end. */
export function CutList({ spools, sections, dismissed, otherLines, changed }: Props) {
  if (spools.length === 0) return null;
  return (
    <section aria-labelledby="cut-title">
      <h2 id="cut-title">What to cut</h2>
      {spools.map((spool) => (
        <CutsOfSpool
          key={spool.id}
          spool={spool}
          sections={placed(sections.filter((one) => one.spoolId === spool.id))}
          dismissed={dismissed.filter((one) => one.spoolId === spool.id)}
          changed={changed}
          linesOnPaper={Math.floor((LINES_ON_PAPER - otherLines) / spools.length)}
        />
      ))}
    </section>
  );
}

function CutsOfSpool(props: {
  readonly spool: SpoolView;
  readonly sections: readonly PlacedSection[];
  readonly dismissed: readonly DismissedView[];
  readonly changed: () => void;
  readonly linesOnPaper: number;
}) {
  const { spool, sections, dismissed, linesOnPaper } = props;
  const [all, setAll] = useState(false);
  const bad = sections.filter(({ verdict }) => verdict !== 'good');
  const cuts = gathered(bad, spool.limits.nominalMm);
  const onPaper = Math.max(SHOWN, rowsWithin(linesOnPaper, cuts));
  const rows = cuts.map((cut) => <CutRow key={cut.id} cut={cut} woundMm={spool.woundMm} />);
  return (
    <div class="cut-spool">
      <p>
        <a href={`/spool/${spool.id}`}>Spool {spool.ordinal}</a>, {metresText(spool.woundMm, 1)}:{' '}
        {foundText(spool, bad)}
        {spool.kept !== null &&
          (spool.kept.coils === 0
            ? ' Nothing is left to keep.'
            : ` The cut list keeps ${metresText(spool.kept.keptMm)} in ${counted(spool.kept.coils, 'coil')}.`)}
        {spool.cutOffMm > 0 && ` ${metresText(spool.cutOffMm, 1)} is cut off already.`}
        {spool.lengthFactor !== 1 &&
          ` By tape: all its lengths are ${spool.lengthFactor.toFixed(4)} times what the line counted; alarms use the line’s count.`}
      </p>
      <RunRibbon spool={spool} sections={sections} limits={spool.limits} />
      {cuts.length > 0 && (
        <table class="cuts">
          <caption class="visually-hidden">
            Bad and doubtful stretches of spool {spool.ordinal}, from the outer end
          </caption>
          <thead>
            <tr>
              <th scope="col">From the outer end</th>
              <th scope="col">From the inner end</th>
              <th scope="col">Length</th>
              <th scope="col">Why</th>
            </tr>
          </thead>
          <tbody>{rows.slice(0, SHOWN)}</tbody>
          <tbody class={all ? '' : 'only-print'}>{rows.slice(SHOWN, onPaper)}</tbody>
          {all && <tbody class="no-print">{rows.slice(onPaper)}</tbody>}
        </table>
      )}
      {cuts.length > SHOWN && !all && (
        <button type="button" class="plain no-print" data-testid="more-cuts" onClick={() => setAll(true)}>
          {cuts.length - SHOWN} more
        </button>
      )}
      {cuts.length > onPaper && (
        <p class="fine only-print">
          And {cuts.length - onPaper} more: see the page of spool {spool.name}, or print its cut list there.
        </p>
      )}
      <DismissedList
        dismissed={dismissed}
        place={({ toSpoolMm }) => `${metresText(Math.max(0, spool.woundMm - toSpoolMm))} from the outer end`}
        changed={props.changed}
      />
    </div>
  );
}

/** A row that says why it is in doubt takes two lines. */
function rowsWithin(lines: number, cuts: readonly AlikeSections[]): number {
  let left = lines;
  const rows = cuts.findIndex((cut) => {
    left -= doubtText(cut) === '' ? 1 : 2;
    return left < 0;
  });
  return rows < 0 ? cuts.length : rows;
}

/** "13 bad stretches and 5 doubtful ones, 2.34 m from edge to edge." The verdict counts the same. */
function foundText(spool: SpoolView, cuts: readonly PlacedSection[]): string {
  const bad = cuts.filter(({ verdict }) => verdict === 'discard').length;
  const doubtful = cuts.length - bad;
  if (cuts.length === 0) return 'no bad stretch.';
  const parts = [
    ...(bad > 0 ? [counted(bad, 'bad stretch', 'bad stretches')] : []),
    ...(doubtful > 0
      ? [bad > 0 ? counted(doubtful, 'doubtful one') : counted(doubtful, 'doubtful stretch', 'doubtful stretches')]
      : []),
  ];
  const length = metresText(spool.discardMm + spool.doubtfulMm);
  return `${parts.join(' and ')}, ${length} from edge to edge.`;
}

function CutRow({ cut, woundMm }: { readonly cut: AlikeSections; readonly woundMm: number }) {
  return (
    <tr class={cut.verdict}>
      <th scope="row">{metresText(Math.max(0, woundMm - cut.toSpoolMm))}</th>
      <td>{metresText(Math.max(0, cut.fromSpoolMm))}</td>
      <td>{length(cut.toSpoolMm - cut.fromSpoolMm)}</td>
      <td>
        {sectionName(cut)}
        {cut.peakMm !== null && ` ${diameter(cut.peakMm)}\u00a0mm`}
        {cut.places > 1 && `, ${counted(cut.places, 'place')}`}
        {doubtText(cut) || (cut.verdict === 'doubtful' ? ' (doubtful)' : '')}
        {cut.note && `, ${cut.note}`}
      </td>
    </tr>
  );
}
