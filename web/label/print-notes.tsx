import type { ComponentChildren } from 'preact';
import { useEffect, useState } from 'preact/hooks';
import type { PrinterProfile } from '../../server/api/contract/printers.ts';
import type { StockDetail, UseInput } from '../../server/api/contract/stock.ts';
import { ChoiceField } from '../form/field.tsx';
import { isWithin } from '../form/typed-number.ts';
import { useFaults } from '../form/use-faults.ts';
import { shortDay } from '../format/times.ts';
import { call } from '../service/call.ts';
import { refetchVersion } from '../service/live-store.ts';
import { asProblem, isAbort, type ServiceProblem } from '../service/request.ts';
import { may } from '../service/session.ts';
import { ProblemNote } from '../shell/problem-note.tsx';
import { ABOVE_ZERO, AmountField, type Unit } from '../stock/amount-field.tsx';
import { leftText, recordUse, undoUse } from '../stock/record-use.ts';
import { MarkedStrand } from './marked-strand.tsx';
import '../styles/stock.css';

const STEPS = ['started', 'finished', 'jammed', 'flawed'] as const;
type Step = (typeof STEPS)[number];

const STEP_TEXT: Record<Step | 'used', string> = {
  started: 'Started',
  finished: 'Finished',
  jammed: 'Jammed',
  flawed: 'Visibly flawed',
  used: 'Used',
};
const AMOUNT_LABEL: Record<Step, string> = {
  started: 'The whole print needs (if known)',
  finished: 'It used (if known)',
  jammed: 'It jammed at about (if known)',
  flawed: 'The flaw is at about (if known)',
};
const UNIT_TEXT = { metres: 'm', grams: 'g', percent: '%', all: '' } as const;

interface Props {
  readonly code: string;
  readonly runId: number;
  readonly timeZone: string;
  /** What follows on the page: it comes with the prints, which would push it away. */
  readonly children: ComponentChildren;
}

/** The prints from a coil: noted in two taps, and where on the strand one jammed. */
export function PrintNotes(props: Props) {
  const { code, children } = props;
  const [detail, setDetail] = useState<StockDetail | null>(null);
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const version = refetchVersion.value;
  useEffect(() => {
    const controller = new AbortController();
    call('GET /api/stock/:code', { params: { code }, signal: controller.signal }).then(
      (answer) => {
        setDetail(answer);
        setProblem(null);
      },
      (thrown) => {
        if (!isAbort(thrown)) setProblem(asProblem(thrown));
      },
    );
    return () => controller.abort();
  }, [code, version]);
  if (!detail && !problem) return null;
  return (
    <>
      {problem ? (
        <p class="quiet">{problem.message}</p>
      ) : (
        detail && <Prints {...props} detail={detail} put={setDetail} />
      )}
      {children}
    </>
  );
}

interface PrintsProps extends Omit<Props, 'children'> {
  readonly detail: StockDetail;
  readonly put: (detail: StockDetail) => void;
}

function Prints({ code, runId, timeZone, detail, put }: PrintsProps) {
  const [step, setStep] = useState<Step | null>(null);
  const { item, prints, entries } = detail;
  const marked = prints.flatMap(({ marks }) => marks);
  return (
    <section aria-labelledby="prints-title" class="print-notes">
      <h2 id="prints-title">Prints</h2>
      <p data-testid="strand-left">
        {leftText(item)}
        {item.isLow && item.usedUpBy === null && ' It is running low.'}
      </p>
      {may('act') && (
        <fieldset class="print-steps no-print">
          <legend>Note a print</legend>
          {STEPS.map((one) => (
            <button
              key={one}
              type="button"
              class={step === one ? 'main' : undefined}
              aria-pressed={step === one}
              onClick={() => setStep(step === one ? null : one)}
            >
              {STEP_TEXT[one]}
            </button>
          ))}
        </fieldset>
      )}
      {step && (
        <StepForm
          key={step}
          step={step}
          detail={detail}
          done={(after) => {
            put(after);
            setStep(null);
          }}
          changed={put}
        />
      )}
      {marked.map((mark) => (
        <MarkedStrand key={mark.entryId} runId={runId} mark={mark} item={item} />
      ))}
      {entries.length > 0 && (
        <ul class="print-entries" data-testid="print-entries">
          {entries.toReversed().map((entry) => (
            <li key={entry.id}>
              <span>
                {entryText(entry)}, {shortDay(entry.atMs, timeZone)}, {entry.who}
              </span>
              {may('act') && (
                <button
                  type="button"
                  class="plain no-print"
                  aria-label={`Undo “${entryText(entry)}”`}
                  onClick={() => void undoUse(code, entry.id, put)}
                >
                  Undo
                </button>
              )}
            </li>
          ))}
        </ul>
      )}
    </section>
  );
}

interface StepProps {
  readonly step: Step;
  readonly detail: StockDetail;
  readonly done: (after: StockDetail) => void;
  /** Called when it is undone later. */
  readonly changed: (after: StockDetail) => void;
}

/** All of it may stay empty: the second tap saves. */
function StepForm({ step, detail, done, changed }: StepProps) {
  const { item, prints } = detail;
  const [printers, setPrinters] = useState<readonly PrinterProfile[]>([]);
  const running = prints.at(-1)?.isRunning === true ? prints.at(-1) : undefined;
  const [printer, setPrinter] = useState('');
  const knowsWhole = step !== 'started' && running?.needs != null;
  const units: readonly Unit[] = knowsWhole ? ['percent', 'metres', 'grams'] : ['metres', 'grams'];
  const [{ amount, unit }, setAmount] = useState<{ amount: number | null; unit: Unit }>({
    amount: null,
    unit: units[0] ?? 'metres',
  });
  const { faults, problem, showThrown, clear } = useFaults(['used', 'print'], () => 'print-amount');
  useEffect(() => {
    call('GET /api/printers').then(setPrinters, () => {});
  }, []);
  const save = async () => {
    const given = isWithin(amount, ABOVE_ZERO) ? { amount, unit } : null;
    const body: UseInput = {
      kind: step,
      lastEntryId: item.lastEntryId,
      ...(printer === '' ? {} : { printerId: Number(printer) }),
      ...(given === null
        ? {}
        : step === 'started' && given.unit !== 'percent'
          ? { print: { ...given, unit: given.unit } }
          : { used: given }),
    };
    let isFirst = true;
    try {
      await recordUse(item.code, body, `Noted: ${STEP_TEXT[step].toLowerCase()}.`, (after) => {
        (isFirst ? done : changed)(after);
        isFirst = false;
      });
    } catch (thrown) {
      showThrown(thrown);
    }
  };
  return (
    <form
      class="print-step-form no-print"
      aria-label={`Note a print: ${STEP_TEXT[step].toLowerCase()}`}
      onSubmit={(event) => {
        event.preventDefault();
        void save();
      }}
    >
      <button type="submit" class="main">
        Save “{STEP_TEXT[step].toLowerCase()}”
      </button>
      <div class="print-step-fields">
        <AmountField
          id="print-amount"
          label={AMOUNT_LABEL[step]}
          amount={amount}
          unit={unit}
          units={units}
          fault={faults.used ?? faults.print}
          set={(value, chosen) => {
            setAmount({ amount: value, unit: chosen });
            clear('used', 'print');
          }}
        />
        {printers.length > 1 && (
          <ChoiceField
            label="Printer"
            value={printer}
            choices={[
              ['', running?.printer ?? 'The one chosen for this spool'],
              ...printers.map(({ id, name }) => [String(id), name] as const),
            ]}
            set={setPrinter}
          />
        )}
      </div>
      {problem && <ProblemNote problem={problem} />}
    </form>
  );
}

function entryText({ kind, used, print, printer }: StockDetail['entries'][number]): string {
  const amount = used === null ? '' : used.amount === null ? 'all of it' : `${used.amount} ${UNIT_TEXT[used.unit]}`;
  const where = amount === '' ? '' : kind === 'jammed' || kind === 'flawed' ? ` at ${amount}` : ` ${amount}`;
  const whole = print === null ? '' : `, needs ${print.amount} ${UNIT_TEXT[print.unit]}`;
  return `${STEP_TEXT[kind]}${where}${whole}${printer === null ? '' : `, ${printer}`}`;
}
