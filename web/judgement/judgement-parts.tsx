import { useState } from 'preact/hooks';
import type { SectionView } from '../../server/api/contract/runs-and-spools.ts';
import { EXPORT_TEXT } from '../format/names.ts';
import { AdviceList } from '../shell/advice-list.tsx';
import { DownloadLink } from '../shell/download-link.tsx';
import { Later } from '../shell/later.tsx';
import { Needs } from '../shell/needs.tsx';
import { Part } from '../shell/part.tsx';
import { CoilPart } from './coil-part.tsx';
import { FlowPart } from './flow-part.tsx';
import type { JudgementModel } from './judgement-model.ts';
import { NumbersPart } from './numbers-part.tsx';
import { PrintFit } from './print-fit.tsx';
import { ReelPart } from './reel-part.tsx';
import { SpectrumPart } from './spectrum-part.tsx';
import { SteadinessPart } from './steadiness-part.tsx';
import { TapeForm } from './tape-form.tsx';
import { WeighingForm } from './weighing-form.tsx';

interface Props {
  readonly model: JudgementModel;
  /** Where the pointer is on the ribbon. */
  readonly cursorMm: number;
  /** Cut off at the rewinder since it was wound, mm. */
  readonly offMm: number;
  readonly show: (section: SectionView) => void;
  readonly changed: () => void;
  /** Opens the form that corrects where the spool starts. */
  readonly correctStart: () => void;
}

/** Everything about a spool below its ribbon. */
export function JudgementParts({ model, cursorMm, offMm, show, changed, correctStart }: Props) {
  const judgement = model.judgement.value;
  if (!judgement) return <ComingParts />;
  const { statistics, spoolId, lengthScale } = judgement;
  return (
    <div class="parts">
      <Coming of="reel">
        {() => (
          <ReelPart
            reel={model.reel.value}
            mass={judgement.mass}
            sections={judgement.sections}
            cursorMm={cursorMm}
            offShare={judgement.woundMm > 0 ? offMm / judgement.woundMm : 0}
            show={show}
          />
        )}
      </Coming>
      {judgement.verdict && (
        <Coming of="fit">
          {() => (
            <Part
              id="fit"
              title={COMING.fit.title}
              lead="From one coil, with 3 % and half a metre in reserve; the shortest that is long enough."
            >
              <PrintFit spoolId={spoolId} />
              <CoilPart spoolId={spoolId} stamp={judgement} />
            </Part>
          )}
        </Coming>
      )}
      <Coming of="flow">
        {() => (
          <FlowPart
            flow={judgement.flow}
            jam={judgement.jam}
            askFor={(printMetres) => {
              model.printMetres = printMetres;
              changed();
            }}
          />
        )}
      </Coming>
      {statistics && (
        <Coming of="numbers">{() => <NumbersPart statistics={statistics} judgement={judgement} />}</Coming>
      )}
      {judgement.advice.length > 0 && (
        <Part
          id="advice"
          title="Worth knowing"
          lead="About the line and its gauge: nothing here is cut out automatically."
        >
          <AdviceList advice={judgement.advice} />
        </Part>
      )}
      {statistics && (
        <Coming of="steady">
          {() => (
            <Part
              id="control"
              title={COMING.steady.title}
              lead="The mean diameter along the strand, and where its level changed."
            >
              <SteadinessPart spoolId={spoolId} />
            </Part>
          )}
        </Coming>
      )}
      {statistics && (
        <Part
          id="swings"
          title="Periodic faults"
          lead="Periods along the strand or in time, and what may turn at that pace."
        >
          <Opened summary="The spectrum, with named peaks">
            <SpectrumPart spoolId={spoolId} />
          </Opened>
        </Part>
      )}
      <Coming of="correct">
        {() => (
          <Part
            id="correct"
            title={COMING.correct.title}
            lead="Where the spool starts, if the line got it wrong; its length, from a stretch that you unwound and measured; and its mass, from a scale."
          >
            <Needs right="act">
              <p class="actions no-print">
                <button type="button" id="ask-bounds" onClick={correctStart}>
                  Correct where the spool starts…
                </button>
              </p>
            </Needs>
            {judgement.winding ? (
              <p>It is still being wound: lengths are as the line counts them, and its mass follows from them.</p>
            ) : (
              <Needs right="act">
                <h3>Length</h3>
                <TapeForm model={model} scale={lengthScale} changed={changed} />
                <h3>Mass</h3>
                <WeighingForm model={model} mass={judgement.mass} changed={changed} />
              </Needs>
            )}
          </Part>
        )}
      </Coming>
      <Part id="take" title="Download" lead="Every reading of this spool, for your own tools.">
        <ul class="exports no-print">
          {EXPORT_TEXT.map(([format, text, purpose]) => (
            <li key={format}>
              <DownloadLink
                path={`/api/spools/${spoolId}/export`}
                query={{ format }}
                text={text}
                note={purpose}
                testId={`export-${format}`}
              />
            </li>
          ))}
          <li>
            <button type="button" class="plain" onClick={() => print()}>
              Print this report
            </button>{' '}
            <span class="quiet">two sheets</span>
          </li>
        </ul>
      </Part>
    </div>
  );
}

/** The parts that the judgement brings, and about how high each is, so that the page keeps its length. */
const COMING = {
  reel: { title: 'On the spool', lines: 26 },
  fit: { title: 'Will a print fit?', lines: 16 },
  flow: { title: 'In the printer', lines: 22 },
  numbers: { title: 'The numbers', lines: 28 },
  steady: { title: 'Was it steady?', lines: 22 },
  correct: { title: 'Correct length, start and mass', lines: 16 },
} as const;

function ComingParts() {
  return (
    <div class="parts" aria-busy="true">
      <p class="visually-hidden" role="status">
        Judging the spool …
      </p>
      {(Object.keys(COMING) as (keyof typeof COMING)[]).map((of) => (
        <ComingPart key={of} of={of} />
      ))}
    </div>
  );
}

/** A part that is drawn in its turn. */
function Coming({ of, children }: { of: keyof typeof COMING; children: () => preact.JSX.Element }) {
  return <Later until={<ComingPart of={of} />}>{children}</Later>;
}

function ComingPart({ of }: { of: keyof typeof COMING }) {
  const { title, lines } = COMING[of];
  return (
    <section class="part" aria-hidden="true">
      <header class="part-intro">
        <h2>{title}</h2>
      </header>
      <div class="part-coming" style={{ '--lines': lines }} />
    </section>
  );
}

/** Renders its content only once it is opened. */
function Opened({ summary, children }: { summary: string; children: preact.ComponentChildren }) {
  const [open, setOpen] = useState(false);
  return (
    <details class="more" onToggle={(event) => setOpen(event.currentTarget.open)}>
      <summary>{summary}</summary>
      {open && children}
    </details>
  );
}
