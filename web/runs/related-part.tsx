import { useEffect, useState } from 'preact/hooks';
import type { RelatedReadingsView, RunView } from '../../server/api/contract/runs-and-spools.ts';
import { counted } from '../format/numbers.ts';
import { span } from '../format/times.ts';
import { call } from '../service/call.ts';
import { asProblem, isAbort, type ServiceProblem } from '../service/request.ts';
import { ProblemNote } from '../shell/problem-note.tsx';
import { relatedText } from './related-text.ts';

/** Which signals moved with the strand of a run. */
export default function RelatedPart({ run }: { run: RunView }) {
  const [related, setRelated] = useState<RelatedReadingsView | null>(null);
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  useEffect(() => {
    const controller = new AbortController();
    call('GET /api/runs/:id/related', { params: { id: run.id }, signal: controller.signal }).then(
      setRelated,
      (thrown) => {
        if (!isAbort(thrown)) setProblem(asProblem(thrown));
      },
    );
    return () => controller.abort();
  }, [run.id]);
  if (problem) return <ProblemNote problem={problem} />;
  if (related === null) return <p class="quiet">Comparing …</p>;
  if (related.tried === 0) return <p>Too little was wound to compare signals with the strand.</p>;
  return (
    <>
      {related.found.length === 0 ? (
        <p data-testid="related-none">
          None of {counted(related.tried, 'signal')} clearly moved with the diameter or the bad stretches.
        </p>
      ) : (
        <ul class="related-list">
          {related.found.map((one) => (
            <li key={`${one.signal} ${one.strand}`} data-testid="related-signal" data-signal={one.signal}>
              {relatedText(one)}{' '}
              <span class="fine">
                {one.lagMs > 0 && `The strand followed about ${span(one.lagMs)} later. `}Correlation{' '}
                {one.correlation.toFixed(2)}.
              </span>
            </li>
          ))}
        </ul>
      )}
      <p class="fine">
        An observation, not a cause. Slow drift is left out; {counted(related.tried, 'signal')} were compared. At most
        one run in a hundred lists one by chance.
      </p>
    </>
  );
}
