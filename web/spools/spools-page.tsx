import { useComputed } from '@preact/signals';
import { useState } from 'preact/hooks';
import type { SpoolRow } from '../../server/api/contract/runs-and-spools.ts';
import { counted, metresText } from '../format/numbers.ts';
import { clock, dayOfYear } from '../format/times.ts';
import { fitnessWord } from '../judgement/fitness-text.ts';
import { listKind, RecordList } from '../list/record-list.tsx';
import { useRows } from '../list/use-rows.ts';
import { call } from '../service/call.ts';
import { live, refetchVersion } from '../service/live-store.ts';
import { BinList } from '../shell/bin-list.tsx';
import { ProblemNote } from '../shell/problem-note.tsx';
import type { ShapeOf } from '../shell/shape.tsx';

const SPOOLS = listKind<SpoolRow>(
  'spool',
  { verdict: (spool) => verdictWord(spool).text, more: ({ name, runId }) => `${name} run ${runId} r${runId}` },
  (spool) => ({
    href: `/spool/${spool.id}`,
    title: spool.title || `Spool ${spool.name}`,
    mark: '',
    example: spool.example,
    fine: [
      ...(spool.title === '' ? [] : [spool.name]),
      dayOfYear(spool.startedMs, spool.timeZone),
      clock(spool.startedMs, spool.timeZone),
      ...(spool.endedMs === null ? ['being wound'] : []),
    ].join(', '),
    verdict: verdictWord(spool),
    reason: reasonText(spool),
  }),
);

function verdictWord({ fitness, endedMs }: SpoolRow): { text: string; shape: ShapeOf } {
  return fitness === null ? { text: 'Nothing wound', shape: 'notice' } : fitnessWord(fitness, endedMs);
}

/** "2 coils, the longest 12.3 m. It is cut." */
function reasonText({ fitness, coils, longestCoilMm, reason, isCut, cutOffMm }: SpoolRow): string {
  const pieces = `${counted(coils, 'coil')}, the longest ${metresText(longestCoilMm, 1)}.`;
  return [
    fitness === 'fitAfterCutting' ? pieces : reason,
    isCut ? 'It is cut.' : cutOffMm > 0 ? `${metresText(cutOffMm, 1)} is cut off so far.` : '',
  ]
    .filter(Boolean)
    .join(' ');
}

/** All spools, to search and to sort, with those in the bin. */
export default function SpoolsPage() {
  const [restored, setRestored] = useState(0);
  const version = refetchVersion.value;
  // Only this: the state itself changes four times a second.
  const changed = useComputed(() => live.value?.spoolBoundsRevision).value;
  const {
    rows: spools,
    complete,
    problem,
  } = useRows((query) => call('GET /api/spools', { query }), [version, changed, restored]);
  return (
    <section>
      <header class="page-head">
        <h1>Spools</h1>
        <p>
          Each judged for the printer chosen for it. What is left of them is in <a href="/stock">stock</a>; the nights
          they come from are under <a href="/runs">runs</a>.
        </p>
      </header>
      {problem && <ProblemNote problem={problem} />}
      {spools?.length === 0 && <p class="quiet">There is no spool yet. One starts when the line winds.</p>}
      {spools && spools.length > 0 && <RecordList kind={SPOOLS} rows={spools} complete={complete} />}
      {spools && <BinList restored={() => setRestored(restored + 1)} />}
    </section>
  );
}
