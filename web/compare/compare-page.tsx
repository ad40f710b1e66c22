import { useEffect, useState } from 'preact/hooks';
import type { ComparisonView, MeasureView } from '../../server/api/contract/comparison.ts';
import { capital } from '../../server/problem/sentence.ts';
import { choosePrinter, chosenPrinter } from '../printers/printer-list.ts';
import { PrinterSelect } from '../printers/printer-select.tsx';
import { call } from '../service/call.ts';
import { refetchVersion } from '../service/live-store.ts';
import { asProblem, isAbort, type ServiceProblem } from '../service/request.ts';
import { Part } from '../shell/part.tsx';
import { ProblemNote } from '../shell/problem-note.tsx';
import { Shape } from '../shell/shape.tsx';
import '../styles/compare.css';
import { unbroken } from '../format/numbers.ts';
import type { Groups } from './compare-groups.ts';
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
  const groupsQuery = groups.map((ids) => ids.join(',')).join(';');
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
      {view && !problem && <Answer view={view} />}
    </article>
  );
}

function Answer({ view }: { view: ComparisonView }) {
  const { conclusion, cautions, differences } = view;
  return (
    <>
      <div class="compare-conclusion" data-testid="conclusion">
        <p class="compare-sentence">
          {unbroken(conclusion.preparation)} <strong>{unbroken(conclusion.result)}</strong>
        </p>
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
      <div class="parts">
        <Part
          id="compare-runs"
          title="The runs"
          lead="The other groups are compared with group A. Put runs with the same preparation in one group."
        >
          <RunTable view={view} />
        </Part>
        {differences.length > 0 && (
          <Part
            id="compare-prepared"
            title="What was different"
            lead="What users wrote about the material, and what the line reported while winding. Other things may differ too."
          >
            <DifferenceTable view={view} />
          </Part>
        )}
        <Part
          id="compare-results"
          title="Results"
          lead="One row per run, with the interval that holds the true value in 95 of 100 cases. Values that differ by more than chance are first."
        >
          <div class="compare-measures">
            {inOrder(view.measures).map((measure) => (
              <ValueRows key={measure.key} measure={measure} groups={view.groups} />
            ))}
          </div>
          <ComparisonMethod view={view} />
        </Part>
        <Part
          id="compare-shapes"
          title="Diameters"
          lead="How much of the strand has which diameter, on one axis; the band is the tolerance."
        >
          <DiameterShapes view={view} />
        </Part>
      </div>
    </>
  );
}

function DifferenceTable({ view: { differences, groups } }: { view: ComparisonView }) {
  return (
    <div class="table-scroll">
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
    </div>
  );
}

const FIRST = ['differs', 'unsure', 'chance', 'unknown'] as const;

/** Findings first; otherwise in the order of the service. */
function inOrder(measures: readonly MeasureView[]): readonly MeasureView[] {
  const rank = ({ comparisons }: MeasureView) => Math.min(...comparisons.map(({ finding }) => FIRST.indexOf(finding)));
  return measures.toSorted((a, b) => rank(a) - rank(b));
}
