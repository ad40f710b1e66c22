import { useComputed } from '@preact/signals';
import { useEffect, useMemo, useState } from 'preact/hooks';
import type { DiameterLimits } from '../chart/diameter-scale.ts';
import { lotText, spoolName } from '../format/names.ts';
import { diameter } from '../format/numbers.ts';
import { clock, day } from '../format/times.ts';
import { JudgementModel } from '../judgement/judgement-model.ts';
import { JudgementParts } from '../judgement/judgement-parts.tsx';
import { MarkLegend } from '../judgement/mark-legend.tsx';
import { VerdictHead } from '../judgement/verdict-head.tsx';
import { call } from '../service/call.ts';
import { live, refetchVersion } from '../service/live-store.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { may } from '../service/session.ts';
import { DeletePart } from '../shell/delete-part.tsx';
import { ExampleMark } from '../shell/example-mark.tsx';
import { Fold } from '../shell/fold.tsx';
import { Later } from '../shell/later.tsx';
import { NameForm } from '../shell/name-form.tsx';
import { Needs } from '../shell/needs.tsx';
import { NoteField } from '../shell/note-field.tsx';
import { ProblemNote } from '../shell/problem-note.tsx';
import { UnreadableNote } from '../shell/unreadable-note.tsx';
import { Ribbon } from './ribbon.tsx';
import { SectionEditor } from './section-editor.tsx';
import { placed } from './section-order.ts';
import { SectionTable } from './section-table.tsx';
import { SpoolBounds } from './spool-bounds.tsx';
import { SpoolModel } from './spool-model.ts';
import { SpoolTotals } from './spool-totals.tsx';

const JUDGE_EVERY_MS = 8000;
/** The first judgement reads the whole spool. The ribbon requests its visible rows first, so that they need not wait for it. */
const AFTER_RIBBON_MS = 150;

/** The spool as a page of text. Without an id, the newest. */
export default function SpoolPage({ spoolId }: { spoolId: number | null }) {
  const [newest, setNewest] = useState<number | 'none' | null>(null);
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  // Only the number: the state itself changes four times a second.
  const liveSpool = useComputed(() => live.value?.spool?.id ?? null).value;
  useEffect(() => {
    if (spoolId !== null || liveSpool !== null) return;
    newestSpool().then(
      (id) => setNewest(id ?? 'none'),
      (thrown) => setProblem(asProblem(thrown)),
    );
  }, [spoolId, liveSpool]);
  const id = spoolId ?? liveSpool ?? newest;
  if (id === null)
    return problem ? <ProblemNote problem={problem} /> : <p class="quiet">Looking for the newest spool …</p>;
  if (id === 'none') {
    return (
      <section class="prose">
        <h1>Nothing has been wound yet.</h1>
        <p>
          A spool starts with winding: automatically once the zones are at temperature and the strand has settled, or
          when you set the stage on the <a href="/">live page</a>.
        </p>
      </section>
    );
  }
  return <OneSpool key={id} id={id} />;
}

function differ(a: DiameterLimits, b: DiameterLimits): boolean {
  return (['nominalMm', 'toleranceMm', 'hotendLimitMm', 'smallestFeedableMm'] as const).some(
    (name) => a[name] !== b[name],
  );
}

async function newestSpool(): Promise<number | null> {
  const runs = await call('GET /api/runs');
  const withSpool = runs.find((run) => run.spools > 0);
  if (!withSpool) return null;
  const detail = await call('GET /api/runs/:id', { params: { id: withSpool.id } });
  return detail.spools.reduce<number | null>(
    (most, spool) => (most === null || spool.id > most ? spool.id : most),
    null,
  );
}

function OneSpool({ id }: { id: number }) {
  const model = useMemo(() => new SpoolModel(id), [id]);
  const version = refetchVersion.value;
  const detail = model.detail.value;
  const growing = detail !== null && detail.spool.endedMs === null;
  useEffect(() => {
    void model.load();
  }, [model, version]);
  useEffect(() => {
    if (!growing) return;
    const timer = setInterval(() => model.load(), 2000);
    return () => clearInterval(timer);
  }, [model, growing]);

  const judging = useMemo(() => new JudgementModel(id), [id]);
  // While it grows the spool is judged every few seconds, afterwards when users change something.
  const changed = growing ? null : detail;
  useEffect(() => {
    if (detail === null) return;
    const soon = setTimeout(() => judging.load(), AFTER_RIBBON_MS);
    const timer = growing ? setInterval(() => judging.load(), JUDGE_EVERY_MS) : undefined;
    return () => {
      clearTimeout(soon);
      clearInterval(timer);
    };
  }, [judging, version, growing, changed, detail === null]);
  useEffect(() => () => judging.stop(), [judging]);
  const judgement = judging.judgement.value;
  const sections = useMemo(() => placed(detail?.sections ?? []), [detail]);
  if (!detail) {
    return model.problem.value ? (
      <ProblemNote problem={model.problem.value} again={() => model.load()} />
    ) : (
      <p class="quiet">Fetching the spool …</p>
    );
  }
  const { spool, run } = detail;
  const { limits, limitsWhenWound: then } = spool;
  const idle = model.draft.value === null && model.bounds.value === null;
  return (
    <article class="spool">
      <header class="page-head">
        <h1>
          {spool.title || spoolName(spool)}
          {run.example && <ExampleMark explained />}
        </h1>
        <p>
          {growing ? 'Being wound since' : 'Wound'} {day(spool.startedMs, run.timeZone)},{' '}
          {clock(spool.startedMs, run.timeZone)}
          {spool.endedMs !== null && ` to ${clock(spool.endedMs, run.timeZone)}`}. On labels and coils it is{' '}
          <span class="on-label">{spool.name}</span>. {run.lot && `Material: ${lotText(run.lot)}. `}
          <a href={`/runs/${run.id}`}>Read the run</a>, or see <a href="/spools">all spools</a>.
        </p>
      </header>
      {judging.problem.value && <ProblemNote problem={judging.problem.value} again={() => judging.load()} />}
      <UnreadableNote whose="the run’s" rows={run.unreadableRows} />
      <VerdictHead spool={spool} judgement={judgement} choosePrinter={(id) => model.choosePrinter(id)} />
      {differ(limits, then) && (
        <p class="fine" data-testid="limits-then">
          Judged for {spool.printerName}. It was wound under other limits: nominal {diameter(then.nominalMm)} ±{' '}
          {diameter(then.toleranceMm)}&nbsp;mm, hotend limit {diameter(then.hotendLimitMm)}&nbsp;mm, smallest feedable{' '}
          {diameter(then.smallestFeedableMm)}&nbsp;mm.
        </p>
      )}
      <SpoolTotals spool={spool} judgement={judgement} />
      {spool.lengthFactor !== 1 && (
        <p class="fine by-tape" data-testid="by-tape">
          By tape: every length here is {spool.lengthFactor.toFixed(4)} times what the line counted. Alarms use the
          line’s count.
        </p>
      )}
      {/* The verdict is drawn first: the ribbon of a long night takes its time. */}
      <Later>
        {() => (
          <>
            <MarkLegend sections={sections} flags />
            <div class="spool-body">
              <Ribbon model={model} detail={detail} sections={sections} limits={limits} />
              <aside class="spool-side" aria-label="Marked stretches of the spool">
                <Needs right="act">
                  <SectionEditor model={model} spool={spool} limits={limits} />
                  <SpoolBounds model={model} detail={detail} />
                </Needs>
                {model.saveProblem.value && idle && <ProblemNote problem={model.saveProblem.value} />}
                {idle && may('act') && (
                  <p class="actions">
                    <button
                      type="button"
                      onClick={() => {
                        const at = model.cursorMm.peek();
                        model.mark(Math.max(0, at - 50), Math.min(spool.woundMm, at + 50));
                      }}
                    >
                      Mark a stretch at the cursor …
                    </button>
                    <a class="plain" href="#correct">
                      Correct length, start and mass
                    </a>
                  </p>
                )}
                <SectionTable
                  model={model}
                  sections={sections}
                  dismissed={detail.dismissed}
                  nominalMm={limits.nominalMm}
                />
              </aside>
            </div>
            {/* Above the parts that arrive with the judgement, which would push it away while the user types. */}
            <NoteField
              id="spool-note"
              title="Your note on this spool"
              placeholder="Colour, where it is stored, what it was used for"
              save={(note) => call('PUT /api/spools/:id/note', { params: { id }, body: { note } })}
              note={spool.note}
              maxLength={2000}
            />
            <JudgementParts
              model={judging}
              cursorMm={model.cursorMm.value}
              offMm={spool.cutOffMm}
              show={(section) => {
                model.adjust(section);
                requestAnimationFrame(() => {
                  document.querySelector('.ribbon .cursor')?.scrollIntoView({ block: 'center', behavior: 'smooth' });
                });
              }}
              changed={() => {
                void judging.load();
                void model.load();
              }}
              correctStart={() => model.openBounds(Math.min(spool.woundMm, model.cursorMm.peek()))}
            />
            <Needs right="act">
              <Fold offPaper title="Name" testId="spool-title">
                <NameForm
                  of={`spool ${spool.name}`}
                  placeholder="Such as: for the garden lamp"
                  title={spool.title}
                  save={(title) => call('PUT /api/spools/:id/title', { params: { id }, body: { title } })}
                  changed={() => void model.load()}
                />
              </Fold>
            </Needs>
            {spool.endedMs !== null && run.endedMs !== null && (
              <DeletePart
                what={`spool ${spool.ordinal} of run ${spool.runId}`}
                effect="The readings of its strand stay in the run."
                list="/spools"
                remove={() => call('DELETE /api/spools/:id', { params: { id } })}
                restore={() => call('POST /api/spools/:id/restore', { params: { id } })}
              />
            )}
          </>
        )}
      </Later>
    </article>
  );
}
