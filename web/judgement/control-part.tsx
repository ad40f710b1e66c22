import { useEffect, useState } from 'preact/hooks';
import type { ChartsView } from '../../server/api/contract/judgement.ts';
import { call } from '../service/call.ts';
import { asProblem, isAbort, type ServiceProblem } from '../service/request.ts';
import { ProblemNote } from '../shell/problem-note.tsx';
import { ControlCharts } from './control-charts.tsx';

/** Fetches the control charts of a spool: all its readings are read for them. */
export function ControlPart({ spoolId }: { spoolId: number }) {
  const [charts, setCharts] = useState<ChartsView | null | 'asked'>('asked');
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  useEffect(() => {
    const asked = new AbortController();
    call('GET /api/spools/:id/charts', { params: { id: spoolId }, signal: asked.signal }).then(setCharts, (thrown) => {
      if (!isAbort(thrown)) setProblem(asProblem(thrown));
    });
    return () => asked.abort();
  }, [spoolId]);
  if (problem) return <ProblemNote problem={problem} />;
  if (charts === 'asked') return <p class="quiet">Reading the strand …</p>;
  if (charts === null) return <p>There is too little strand for control charts, or none of it varied.</p>;
  return <ControlCharts charts={charts} />;
}
