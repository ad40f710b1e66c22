import { useEffect, useState } from 'preact/hooks';
import type { SpoolJudgement } from '../../server/api/contract/judgement.ts';
import type { SpoolView } from '../../server/api/contract/runs-and-spools.ts';
import { diameter, metresText, percent, unbroken } from '../format/numbers.ts';
import { FITNESS_SHAPE, flowSetting, signedPercent } from '../judgement/fitness-text.ts';
import { Histogram } from '../judgement/histogram.tsx';
import { call } from '../service/call.ts';
import { asProblem, isAbort, type ServiceProblem } from '../service/request.ts';
import { ProblemNote } from '../shell/problem-note.tsx';
import { Shape } from '../shell/shape.tsx';
import { Term } from '../terms/term.tsx';

/** The verdict of each spool of the run, with its figures and flow error. */
export function SpoolVerdicts({ spools }: { spools: readonly SpoolView[] }) {
  const wound = spools.filter((spool) => spool.woundMm > 0);
  if (wound.length === 0) return null;
  return (
    <section aria-labelledby="good-for-title">
      <header class="verdicts-head">
        <h2 id="good-for-title">What it is good for</h2>
        <p class="fine">
          By the limits of that night. For another printer, or today’s limits, see the spool’s own page.
        </p>
      </header>
      {wound.map((spool) => (
        <OneVerdict key={spool.id} spool={spool} />
      ))}
    </section>
  );
}

/** Judging reads the whole run. The charts request their windows first, so that they need not wait for it. */
const AFTER_CHARTS_MS = 150;

/** A spool that is still being wound is judged again after this much strand. */
const AGAIN_MM = 10_000;

function OneVerdict({ spool }: { spool: SpoolView }) {
  const [judgement, setJudgement] = useState<SpoolJudgement | null>(null);
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  useEffect(() => {
    const controller = new AbortController();
    const timer = setTimeout(
      () =>
        call('GET /api/spools/:id/judgement', {
          params: { id: spool.id },
          query: { by: 'run' },
          signal: controller.signal,
        }).then(
          (answer) => {
            setJudgement(answer);
            setProblem(null);
          },
          (thrown) => {
            if (!isAbort(thrown)) setProblem(asProblem(thrown));
          },
        ),
      AFTER_CHARTS_MS,
    );
    return () => {
      clearTimeout(timer);
      controller.abort();
    };
  }, [spool.id, spool.endedMs, Math.floor(spool.woundMm / AGAIN_MM)]);
  if (problem) return <ProblemNote problem={problem} />;
  if (!judgement) return <p class="quiet verdict-to-come">Judging spool {spool.ordinal} …</p>;
  const { flow, statistics } = judgement;
  const verdict = judgement.verdict ?? spool.verdict;
  if (verdict === null) return null;
  const metre = flow?.worst.find((one) => one.windowMm === 1000);
  return (
    <div class="one-verdict" data-testid="run-spool-verdict" data-fitness={verdict.fitness}>
      <h3>
        Spool {spool.ordinal} <span class="fine">{judgement.name} on labels and coils</span>
      </h3>
      <p class="with-shape">
        <Shape of={FITNESS_SHAPE[verdict.fitness]} size={20} />
        <span>
          <strong>{unbroken(verdict.sentence)}</strong>{' '}
          {verdict.longestCleanPiece && `Longest clean piece ${metresText(verdict.longestCleanPiece.lengthMm, 1)}. `}
          {verdict.afterCutting && verdict.fitness !== 'notFit' && (
            <a href={`/spool/${spool.id}/rewind`} class="no-print">
              Cut it at the rewinder
            </a>
          )}
        </span>
      </p>
      {statistics && (
        <>
          <dl class="facts">
            <div>
              <dt>
                <Term of="sigma">Mean ± σ</Term>
              </dt>
              <dd>
                {diameter(statistics.meanMm)} ± {diameter(statistics.sdMm)}&nbsp;mm
              </dd>
            </div>
            <div>
              <dt>Within tolerance</dt>
              <dd>{percent(statistics.tolerance.within)}</dd>
            </div>
            {flow && (
              <div>
                <dt>
                  <Term of="flow">Flow setting</Term>
                </dt>
                <dd>{flowSetting(flow.flowMultiplier)}</dd>
              </div>
            )}
            {flow && (
              <div>
                <dt>Mean flow error</dt>
                <dd>{signedPercent(flow.mean)}</dd>
              </div>
            )}
            {metre?.most && metre.least && (
              <div>
                <dt>Worst over a metre</dt>
                <dd>
                  {signedPercent(metre.least.error)} to {signedPercent(metre.most.error)}
                </dd>
              </div>
            )}
          </dl>
          <Histogram histogram={statistics.histogram} limits={judgement.limits} measuredMm={statistics.measuredMm} />
          <p class="fine no-print">
            Spectrum, control charts and where each stretch is: on <a href={`/spool/${spool.id}`}>the spool’s page</a>.
          </p>
        </>
      )}
    </div>
  );
}
