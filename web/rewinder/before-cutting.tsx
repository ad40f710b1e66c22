import { useState } from 'preact/hooks';
import type { CutPlanView } from '../../server/api/contract/cut-plan.ts';
import { NumberField } from '../form/number-field.tsx';
import { counted, metres, unbroken } from '../format/numbers.ts';
import { PrinterSelect } from '../printers/printer-select.tsx';
import { ProblemNote } from '../shell/problem-note.tsx';
import type { TermName } from '../terms/glossary.ts';
import { Term } from '../terms/term.tsx';
import { CoilList } from './coil-list.tsx';
import { CutProgressBar } from './cut-progress-bar.tsx';
import { PlanWarnings } from './plan-warnings.tsx';
import { PrintList } from './print-list.tsx';
import type { RewinderModel } from './rewinder-model.ts';

/** The choices of what to keep, and the cut list that follows from them. */
export function BeforeCutting({ model, plan }: { model: RewinderModel; plan: CutPlanView }) {
  const { choices } = plan;
  const [shortest, setShortest] = useState<number | null>(plan.shortestMm / 1000);
  const nothing = plan.coils.length === 0;
  return (
    <>
      <header class="page-head">
        <h1>Cut {plan.name}</h1>
        <p>
          From its outer end, which comes off first. <a href={`/spool/${plan.spoolId}`}>The spool’s page</a>
        </p>
      </header>
      {model.problem.value && <ProblemNote problem={model.problem.value} />}
      <section class="plan" aria-labelledby="plan-title">
        <h2 id="plan-title" class="visually-hidden">
          The plan
        </h2>
        <CutProgressBar plan={plan} />
        <p class="actions">
          <button
            type="button"
            class="main begin"
            disabled={plan.steps.length === 0}
            onClick={() => {
              model.started.value = true;
              window.scrollTo(0, 0);
            }}
          >
            {nothing ? 'Step through it anyway' : `Begin: ${counted(plan.steps.length, 'step')}`}
          </button>
        </p>
        <p class="plan-text" data-testid="explanation" aria-live="polite">
          {unbroken(plan.explanation)}
        </p>
        <PlanWarnings plan={plan} />
        <form class="choices" onSubmit={(event) => event.preventDefault()}>
          <PrinterSelect value={plan.printer.id} choose={(printerId) => model.choose({ printerId })} />
          <NumberField
            id="shortest"
            label="Shortest coil worth keeping"
            value={shortest}
            digits={1}
            unit="m"
            bounds={{ exclusiveMinimum: 0 }}
            set={(value) => {
              setShortest(value);
              if (value !== null && value > 0) void model.choose({ shortestMm: value * 1000 });
            }}
          />
          <Choice
            legend="Keep"
            name="objective"
            value={choices.objective}
            of={[
              ['mostLength', 'the most metres'],
              ['fewestCuts', 'enough, with the fewest cuts'],
              ['longestCoil', 'the longest coil'],
              ['prints', 'coils for these prints'],
            ]}
            set={(objective) => model.choose({ objective })}
          />
          {choices.objective === 'prints' && <PrintList model={model} plan={plan} />}
          <Choice
            legend="Doubtful stretches"
            term="doubtful"
            name="doubtful"
            value={choices.doubtful}
            of={[
              ['cut', 'cut out'],
              ['keep', 'keep'],
            ]}
            set={(doubtful) => model.choose({ doubtful })}
          />
          <Choice
            legend="Not measured"
            term="notMeasured"
            name="unknown"
            value={choices.unknown}
            of={[
              ['cut', 'cut out'],
              ['keep', 'keep'],
            ]}
            set={(unknown) => model.choose({ unknown })}
          />
        </form>
        {!nothing && <CoilList model={model} plan={plan} />}
        <p class="actions">
          <a class="button" href={`/spool/${plan.spoolId}/cut-list`}>
            Cut list for paper
          </a>
        </p>
        <p class="fine">
          Zero the counter at every cut. A count may be off by {(plan.countError.wheelShare * 100).toFixed(1)} % of its
          length and by {metres(plan.countError.slipMm, 3)} m at each cut,
          {plan.countError.lengthScaleShare > 0 &&
            ` the length scale by ${(plan.countError.lengthScaleShare * 100).toFixed(1)} %,`}{' '}
          and the edge of a bad stretch by {metres(plan.countError.edgeMm, 3)} m. Each bad stretch is cut out with that
          much good strand on either side, as a <Term of="margin">margin</Term>. The error grows from cut to cut until
          you confirm a <Term of="landmark">landmark</Term>.
        </p>
      </section>
    </>
  );
}

function Choice<T extends CutPlanView['choices']['objective'] | CutPlanView['choices']['doubtful']>(props: {
  legend: string;
  term?: TermName;
  name: string;
  value: T;
  of: readonly (readonly [T, string])[];
  set: (value: T) => void;
}) {
  return (
    // The mark is not part of the name.
    <fieldset class="switch" aria-label={props.legend}>
      <legend>{props.term ? <Term of={props.term}>{props.legend}</Term> : props.legend}</legend>
      {props.of.map(([value, text]) => (
        <label key={value}>
          <input type="radio" name={props.name} checked={props.value === value} onChange={() => props.set(value)} />
          <span>{text}</span>
        </label>
      ))}
    </fieldset>
  );
}
