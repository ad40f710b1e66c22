import { useEffect, useState } from 'preact/hooks';
import type { ComparisonView, MeasureView } from '../../server/api/contract/comparison.ts';
import { capital } from '../../server/problem/sentence.ts';
import { choosePrinter, chosenPrinter } from '../printers/printer-list.ts';
import { PrinterSelect } from '../printers/printer-select.tsx';
import { call } from '../service/call.ts';
import { refetchVersion } from '../service/live-store.ts';
import { asProblem, isAbort, type ServiceProblem } from '../service/request.ts';
import { Fold } from '../shell/fold.tsx';
import { ProblemNote } from '../shell/problem-note.tsx';
import { ScrollTable } from '../shell/scroll-table.tsx';
import { Shape } from '../shell/shape.tsx';
import '../styles/compare.css';
import { counted, unbroken } from '../format/numbers.ts';
import type { Groups } from './compare-groups.ts';
import { FINDING_TEXT } from './compare-text.ts';
import { ComparisonMethod } from './comparison-method.tsx';
import { DiameterShapes } from './diameter-shapes.tsx';
import { RunPicker } from './run-picker.tsx';
import { RunTable } from './run-table.tsx';
import { ValueRows } from './value-rows.tsx';

/** Compares runs: what was prepared differently, how the results differ, and which differences are more than chance. */
export default function ComparePage({ groups }: { groups: Groups }) {
  if (groups.length < 2)
    return (
      <section class="compare">
        <header class="page-head">
          <h1>Compare runs</h1>
          <p>What did drying, sieving or another blend change? Compare runs to find out.</p>
        </header>
        <RunPicker chosen={groups.flat()} />
      </section>
    );
  return <ComparisonOfRuns groups={groups} />;
}

function ComparisonOfRuns({ groups }: { groups: Groups }) {
  const [view, setView] = useState<ComparisonView | null>(null);
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const printer = chosenPrinter.value;
  const version = refetchVersion.value;
  const groupsQuery = groups.map((refs) => refs.join(',')).join(';');
  useEffect(() => {
    const stop = new AbortController();
    call('GET /api/comparison', { query: { groups: groupsQuery, printer }, signal: stop.signal }).then(
      (answer) => {
        setView(answer);
        setProblem(null);
      },
      (thrown) => {
        if (!isAbort(thrown)) setProblem(asProblem(thrown));
      },
    );
    return () => stop.abort();
  }, [groupsQuery, printer, version]);
  const runs = groups.flat();
  return (
    <article class="compare">
      <header class="page-head">
        <h1>Compare runs</h1>
        <p class="compare-tools no-print">
          <PrinterSelect label="Judged for" value={printer} choose={choosePrinter} />{' '}
          <a href={`/compare/${runs.join(',')}`}>Choose other runs</a>
          <button type="button" class="plain" onClick={() => print()}>
            Print this page
          </button>
        </p>
      </header>
      {problem && <ProblemNote problem={problem} />}
      {!view && !problem && (
        <p class="quiet" role="status">
          Summarising {runs.length} runs. The first time, a long run takes a few seconds …
        </p>
      )}
      {view?.notAnswered.map((why) => (
        <p key={why} role="alert" class="with-shape">
          <Shape of="abnormal" size={18} />
          <span>Without {unbroken(why)}</span>
        </p>
      ))}
      {view && !problem && <Answer view={view} />}
    </article>
  );
}

function Answer({ view }: { view: ComparisonView }) {
  const { conclusion, cautions, differences, measures } = view;
  const first = FIRST.flatMap((key) => measures.filter((measure) => measure.key === key));
  const others = measures.filter((measure) => !first.includes(measure));
  return (
    <>
      <div class="compare-conclusion" data-testid="conclusion">
        <p class="compare-sentence">{unbroken(conclusion.result)}</p>
        <p>{unbroken(conclusion.preparation)}</p>
        <ul>
          {[...cautions, ...conclusion.limitations].map((text) => (
            <li key={text} class="with-shape">
              <Shape of="notice" size={18} />
              <span>{unbroken(text)}</span>
            </li>
          ))}
        </ul>
        {conclusion.nextStep && <p class="compare-next">{unbroken(conclusion.nextStep)}</p>}
      </div>
      <section class="compare-results" aria-labelledby="compare-results-title">
        <h2 id="compare-results-title">Results</h2>
        <Measures of={first} groups={view.groups} />
        <p class="fine">
          One row per run, with the interval that holds the true value in 95 of 100 cases.
          {view.runs.some(({ address }) => address !== '') && ' Groups that share a line are compared within it.'}
        </p>
      </section>
      <div class="folds">
        <Fold title={othersTitle(others)} testId="other-results">
          <Measures of={others} groups={view.groups} />
          <ComparisonMethod view={view} />
        </Fold>
        {differences.length > 0 && (
          <Fold title="What was different, side by side">
            <p class="fine">
              What users wrote about the material, and what the line reported while winding. Other things may differ
              too.
            </p>
            <DifferenceTable view={view} />
          </Fold>
        )}
        <Fold title="The runs and their groups" testId="compared-runs">
          <p class="fine">
            The other groups are compared with group A. Put runs with the same preparation in one group.
          </p>
          <RunTable view={view} />
        </Fold>
        <Fold title="How much of the strand has which diameter">
          <DiameterShapes view={view} />
        </Fold>
      </div>
    </>
  );
}

function Measures({ of, groups }: { of: readonly MeasureView[]; groups: ComparisonView['groups'] }) {
  return (
    <div class="compare-measures">
      {of.map((measure) => (
        <ValueRows key={measure.key} measure={measure} groups={groups} />
      ))}
    </div>
  );
}

function DifferenceTable({ view: { differences, groups } }: { view: ComparisonView }) {
  return (
    <ScrollTable label="What was different">
      <table>
        <thead>
          <tr>
            <th scope="col">What</th>
            {groups.map(({ name }) => (
              <th key={name} scope="col">
                {capital(name)}
              </th>
            ))}
          </tr>
        </thead>
        <tbody>
          {differences.map(({ name, values }) => (
            <tr key={name}>
              <th scope="row">{capital(name)}</th>
              {values.map((value, i) => (
                <td key={groups[i]!.name}>{value ?? <span class="quiet">not entered</span>}</td>
              ))}
            </tr>
          ))}
        </tbody>
      </table>
    </ScrollTable>
  );
}

/** What counts most for a print; the others are folded. */
const FIRST: readonly MeasureView['key'][] = ['blobsAndNecks', 'kept', 'sd'];

/** "7 more results, 1 of them more than chance". */
function othersTitle(others: readonly MeasureView[]): string {
  const found = others.filter(({ comparisons }) => comparisons.some(({ finding }) => finding === 'differs')).length;
  return `${counted(others.length, 'more result')}${found === 0 ? '' : `, ${found} of them ${FINDING_TEXT.differs}`}`;
}
