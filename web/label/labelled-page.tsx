import { useEffect, useState } from 'preact/hooks';
import type { LabelFacts, LabelledView } from '../../server/api/contract/labels.ts';
import type { WindowView } from '../../server/api/contract/runs-and-spools.ts';
import { KIND_TEXT, SHORT_DOUBT } from '../../server/strand/section-names.ts';
import { tracePath } from '../chart/trace-path.ts';
import { lotText } from '../format/names.ts';
import { diameter, gramsWithError, length, metres, metresWithError } from '../format/numbers.ts';
import { clock, shortDay } from '../format/times.ts';
import { FITNESS_SHAPE, FITNESS_TEXT, flowSetting } from '../judgement/fitness-text.ts';
import { call } from '../service/call.ts';
import { asProblem, isAbort, type ServiceProblem } from '../service/request.ts';
import { unpaired } from '../service/session.ts';
import { requestWindow } from '../service/window.ts';
import { ProblemNote } from '../shell/problem-note.tsx';
import { Shape } from '../shell/shape.tsx';
import { PrintNotes } from './print-notes.tsx';

const COLUMNS = 400;
/** Height of the drawing, in its own units. */
const HIGH = 100;

/** The page behind the code of a label. Who is not paired sees four facts; a paired device sees the whole coil. */
export default function LabelledPage({ code }: { code: string }) {
  const [facts, setFacts] = useState<LabelFacts | null>(null);
  const [all, setAll] = useState<LabelledView | null>(null);
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  useEffect(() => {
    const controller = new AbortController();
    const request = { params: { code }, signal: controller.signal };
    const failed = (thrown: unknown) => {
      if (!isAbort(thrown)) setProblem(asProblem(thrown));
    };
    call('GET /api/labels/:code', request).then(setFacts, failed);
    call('GET /api/labels/:code/all', request).then(setAll, (thrown) => {
      // A stranger may see the facts only. What else is wrong, the first request reports too.
      if (!unpaired.peek()) failed(thrown);
    });
    return () => controller.abort();
  }, [code]);
  if (problem) {
    return (
      <section class="prose">
        <h1>Label {code.toUpperCase()}</h1>
        <ProblemNote problem={problem} />
      </section>
    );
  }
  if (!facts) return <p class="quiet">Reading the label …</p>;
  const coil = all?.coil && <Coil all={all} coil={all.coil} />;
  return (
    <article class="labelled" data-testid="labelled">
      <header class="page-head">
        <h1>{facts.name}</h1>
        {/* Its room is there before it is. */}
        <p class="labelled-when">
          {all && (
            <>
              {all.code}, wound {shortDay(all.startedMs, all.timeZone)}, {clock(all.startedMs, all.timeZone)}.{' '}
              <a href={`/spool/${all.spoolId}`}>{all.coil ? 'The spool that it was cut from' : 'The spool’s page'}</a>
            </>
          )}
        </p>
      </header>
      <p class="with-shape labelled-amount">
        <Shape of={FITNESS_SHAPE[facts.verdict]} size={28} />
        <span>
          {FITNESS_TEXT[facts.verdict]},{' '}
          {all?.coil
            ? metresWithError(all.coil.coil.lengthMm, all.coil.coil.lengthUncertaintyMm)
            : length(facts.lengthMm)}
        </span>
      </p>
      {facts.material !== null && <p>Material: {all?.lot ? lotText(all.lot) : facts.material}</p>}
      {all &&
        (all.example ? (
          coil
        ) : (
          <PrintNotes code={all.code} runId={all.runId} timeZone={all.timeZone}>
            {coil}
          </PrintNotes>
        ))}
    </article>
  );
}

function Coil({ all, coil }: { all: LabelledView; coil: NonNullable<LabelledView['coil']> }) {
  const [strand, setStrand] = useState<WindowView | null>(null);
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const { fromGaugeMm: from, toGaugeMm: to, places, printers, statistics, flow, verdict } = coil;
  useEffect(() => {
    const controller = new AbortController();
    requestWindow(all.runId, { axis: 'length', from, to, columns: COLUMNS, signals: ['d'] }, controller.signal).then(
      setStrand,
      (thrown) => {
        if (!isAbort(thrown)) setProblem(asProblem(thrown));
      },
    );
    return () => controller.abort();
  }, [all.runId, from, to]);
  const { nominalMm, toleranceMm, hotendLimitMm, smallestFeedableMm } = all.limits;
  const [lowMm, highMm] = [smallestFeedableMm - 0.05, hotendLimitMm + 0.05];
  const y = (mm: number) => HIGH * (1 - (mm - lowMm) / (highMm - lowMm));
  return (
    <>
      {verdict && <p>{verdict.sentence}</p>}
      {coil.coil.repair && <p role="alert">{coil.coil.repair.sentence}</p>}
      <dl class="facts-small">
        {coil.coil.grams !== null && (
          <div>
            <dt>Mass</dt>
            <dd>{gramsWithError(coil.coil.grams, coil.coil.gramsUncertainty ?? 0)}</dd>
          </div>
        )}
        {statistics && (
          <div>
            <dt>Mean ± σ</dt>
            <dd>
              {diameter(statistics.meanMm)} ± {diameter(statistics.sdMm)} mm
            </dd>
          </div>
        )}
        {flow && (
          <div>
            <dt>Flow</dt>
            <dd>{flowSetting(flow.flowMultiplier)}</dd>
          </div>
        )}
      </dl>
      <h2>From the end that feeds first</h2>
      <p>
        Rewinding reverses the strand: the end that was cut last is outside and feeds first. The trace starts there.
      </p>
      {problem && <ProblemNote problem={problem} />}
      <svg
        class="labelled-trace"
        viewBox={`0 0 ${COLUMNS} ${HIGH}`}
        preserveAspectRatio="none"
        role="img"
        aria-label={`Diameter over ${length(coil.coil.lengthMm)}, from the end that feeds first`}
      >
        <rect
          class="band"
          x={0}
          width={COLUMNS}
          y={y(nominalMm + toleranceMm)}
          height={y(nominalMm - toleranceMm) - y(nominalMm + toleranceMm)}
        />
        {strand && <path class="trace" d={tracePath(strand, (mm) => y(Math.min(highMm, Math.max(lowMm, mm))))} />}
      </svg>
      <p class="fine labelled-ends">
        <span>0 m, feeds first</span>
        <span>
          band: {diameter(nominalMm)} ± {diameter(toleranceMm)} mm
        </span>
        <span>{length(coil.coil.lengthMm)}</span>
      </p>
      {places.length > 0 && (
        <ul data-testid="coil-places">
          {places.map((place) => (
            <li key={`${place.fromFeedMm} ${place.kind}`}>
              {metres(place.fromFeedMm)} to {length(place.toFeedMm)}: {KIND_TEXT[place.kind].toLowerCase()}
              {place.peakMm !== null && ` of ${diameter(place.peakMm)} mm`}
              {place.doubt !== null
                ? `, in doubt: ${SHORT_DOUBT[place.doubt]}`
                : place.verdict === 'doubtful' && ', doubtful'}
            </li>
          ))}
        </ul>
      )}
      <h2>What it may print</h2>
      <ul>
        {printers.map((printer) => (
          <li key={printer.id} class="with-shape">
            <Shape of={FITNESS_SHAPE[printer.fitness]} size={20} />
            <span>
              <b>{printer.name}:</b> {printer.sentence}
            </span>
          </li>
        ))}
      </ul>
      <p class="actions">
        <a class="button" href={`/spool/${all.spoolId}/label`}>
          Print labels
        </a>
        <a class="button" href="/printers">
          Printers
        </a>
      </p>
    </>
  );
}
