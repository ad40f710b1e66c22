import { useEffect, useState } from 'preact/hooks';
import type { SpectrumView } from '../../server/api/contract/spool-analysis.ts';
import { ChartTable } from '../chart/chart-table.tsx';
import { PlainPlot, pathThrough } from '../chart/plain-plot.tsx';
import { logTicks, roundTicks, tickDigits } from '../chart/ticks.ts';
import { percent } from '../format/numbers.ts';
import { call } from '../service/call.ts';
import { asProblem, isAbort, type ServiceProblem } from '../service/request.ts';
import { ProblemNote } from '../shell/problem-note.tsx';
import { periodText, sharperText, shortestPeriodText } from './chart-text.ts';

/** Periodic faults along the strand or in time, and what on the line may cause them. */
export function SpectrumPart({ spoolId }: { spoolId: number }) {
  const [axis, setAxis] = useState<SpectrumView['axis']>('length');
  const [spectrum, setSpectrum] = useState<SpectrumView | null>(null);
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  useEffect(() => {
    const controller = new AbortController();
    call('GET /api/spools/:id/spectrum', { params: { id: spoolId }, query: { axis }, signal: controller.signal }).then(
      (answer) => {
        setSpectrum(answer);
        setProblem(null);
      },
      (thrown) => {
        if (!isAbort(thrown)) setProblem(asProblem(thrown));
      },
    );
    return () => controller.abort();
  }, [spoolId, axis]);
  return (
    <div>
      <fieldset class="switch">
        <legend class="visually-hidden">Periodic</legend>
        {(['length', 'time'] as const).map((one) => (
          <label key={one}>
            <input type="radio" name="spectrum-axis" checked={axis === one} onChange={() => setAxis(one)} />
            <span>{one === 'length' ? 'along the strand' : 'in time'}</span>
          </label>
        ))}
      </fieldset>
      {problem && <ProblemNote problem={problem} />}
      {!spectrum && !problem && <p class="quiet">Looking for periodic faults …</p>}
      {spectrum && <Spectrum spectrum={spectrum} />}
    </div>
  );
}

function Spectrum({ spectrum }: { spectrum: SpectrumView }) {
  const { curve, unit, peaks } = spectrum;
  const most = Math.max(1e-6, ...curve.amplitudeMm, ...peaks.map((peak) => peak.amplitudeMm));
  const first = curve.frequency[0] ?? 0;
  const last = curve.frequency.at(-1) ?? 0;
  const ys = roundTicks(0, most * 1000, 3).filter((y) => y > 0);
  return (
    <>
      {curve.frequency.length > 1 && (
        <figure class="plain-figure">
          <PlainPlot
            height={200}
            logX
            x={[first, last]}
            y={[0, most * 1.12]}
            xTicks={logTicks(1 / last, 1 / first).map((period) => [1 / period, periodText(period, unit)])}
            yTicks={ys.map((y) => [y / 1000, y.toFixed(tickDigits(ys))])}
            xText="period: long to short"
            yText="swing, ± µm"
            label={`Spectrum: ${peaks.length === 0 ? 'no peak stands out from the noise' : `${peaks.length} peaks, listed below`}.`}
          >
            {(at) => (
              <>
                <path class="plot-line" d={pathThrough(curve.frequency, curve.amplitudeMm, at)} />
                {peaks.map((peak, i) => (
                  <g key={peak.frequency}>
                    <line
                      class="plot-stem"
                      x1={at.x(peak.frequency)}
                      x2={at.x(peak.frequency)}
                      y1={at.bottom}
                      y2={at.y(peak.amplitudeMm)}
                    />
                    <circle class="plot-peak" cx={at.x(peak.frequency)} cy={at.y(peak.amplitudeMm)} r={3.5} />
                    <text
                      class="plot-peak-text"
                      x={at.x(peak.frequency)}
                      y={at.y(peak.amplitudeMm) - 7}
                      text-anchor="middle"
                    >
                      {i + 1}
                    </text>
                  </g>
                ))}
              </>
            )}
          </PlainPlot>
          <ChartTable
            caption="The spectrum"
            columns={['Period', 'Swing, ± µm']}
            rows={() =>
              curve.frequency.map((f, i) => [
                periodText(1 / f, unit, 4),
                ((curve.amplitudeMm[i] ?? 0) * 1000).toFixed(2),
              ])
            }
          />
        </figure>
      )}
      {peaks.length === 0 ? (
        <p>No periodic fault stands out from the noise.</p>
      ) : (
        <ol class="peaks">
          {peaks.map((peak) => (
            <li key={peak.frequency} data-testid="peak">
              <b>Every {periodText(peak.period, unit, 3)}</b> by ±&nbsp;{(peak.amplitudeMm * 1000).toFixed(1)}&nbsp;µm,{' '}
              {percent(peak.share)} of the variance. {sharperText(peak.sharperIn)}{' '}
              {peak.causes.map((cause) => cause.sentence).join(' ')}
            </li>
          ))}
        </ol>
      )}
      <p class="fine">
        {shortestPeriodText(spectrum)}{' '}
        {spectrum.candidateCauses.length > 0
          ? `Compared with: ${spectrum.candidateCauses
              .map(({ name, period }) => (period === null ? name : `${name} (${periodText(period, unit, 3)})`))
              .join(', ')}. These are hints, not verdicts.`
          : 'Set the roller’s circumference, the screw’s speed and the control period to have peaks compared with them.'}{' '}
        <a href="/set-up">Set-up</a>
      </p>
    </>
  );
}
