import { useRef, useState } from 'preact/hooks';
import type { OtherLineView } from '../../server/api/contract/lines.ts';
import type { PrinterProfile } from '../../server/api/contract/printers.ts';
import type { StockFitView, StockItem } from '../../server/api/contract/stock.ts';
import { ChoiceField } from '../form/field.tsx';
import { InlineForm } from '../form/inline-form.tsx';
import { isWithin } from '../form/typed-number.ts';
import { counted, unbroken } from '../format/numbers.ts';
import { call } from '../service/call.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { Fold } from '../shell/fold.tsx';
import { ProblemNote } from '../shell/problem-note.tsx';
import { Shape } from '../shell/shape.tsx';
import { ABOVE_ZERO, AmountField } from './amount-field.tsx';

type Fit = StockFitView['fits'][number];
/** Enough to choose from; the rest is folded. */
const FIRST = 5;

interface Props {
  readonly printers: readonly PrinterProfile[];
  readonly items: readonly StockItem[];
  readonly others: readonly OtherLineView[];
}

/** Which strand on the shelf, and on those of the other lines, is long enough for a print. */
export function WhichFits({ printers, items, others }: Props) {
  const [{ need, unit }, setNeed] = useState<{ need: number | null; unit: 'metres' | 'grams' }>({
    need: null,
    unit: 'grams',
  });
  const [printer, setPrinter] = useState('');
  const [answer, setAnswer] = useState<StockFitView | null>(null);
  const [elsewhere, setElsewhere] = useState<readonly AnswerElsewhere[]>([]);
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  /** Counts the questions: an answer to an earlier one is not shown. */
  const asked = useRef(0);
  const forget = () => {
    asked.current += 1;
    setAnswer(null);
    setElsewhere([]);
  };
  const askElsewhere = (metresOrGrams: { [amount: string]: number }) => {
    const question = asked.current;
    for (const line of others) {
      const add = (said: Omit<AnswerElsewhere, 'line'>) => {
        if (asked.current === question) setElsewhere((before) => [...before, { line, ...said }]);
      };
      call('GET /api/lines/:id/stock/fit', { params: { id: line.id }, query: metresOrGrams }).then(
        (answered) => add({ answer: answered }),
        (thrown) => add({ problem: asProblem(thrown) }),
      );
    }
  };
  const ask = async () => {
    if (need === null) return;
    forget();
    askElsewhere({ [unit]: need });
    try {
      const by = printer === '' ? {} : { printerId: Number(printer) };
      setAnswer(await call('GET /api/stock/fit', { query: { [unit]: need, ...by } }));
      setProblem(null);
    } catch (thrown) {
      setProblem(asProblem(thrown));
    }
  };
  const choices = [
    ['', 'The one chosen for each spool'] as const,
    ...printers.map(({ id, name }) => [String(id), name] as const),
  ];
  return (
    <div class="stock-question">
      <InlineForm button="Which one fits?" ready={isWithin(need, ABOVE_ZERO)} submit={ask}>
        <AmountField
          id="stock-need"
          label="The print needs"
          amount={need}
          unit={unit}
          units={['grams', 'metres']}
          set={(amount, chosen) => {
            setNeed({ need: amount, unit: chosen });
            forget();
          }}
        />
        <ChoiceField
          label="Printer"
          value={printer}
          choices={choices}
          set={(chosen) => {
            setPrinter(chosen);
            forget();
          }}
        />
      </InlineForm>
      {problem && <ProblemNote problem={problem} />}
      <div role="status" class="fit-answer" data-testid="stock-fit">
        {answer && (
          <>
            <p class="with-shape stock-answer">
              <Shape of={answer.fits[0]?.answer === 'fits' ? 'calm' : 'abnormal'} size={20} />
              <span>{unbroken(answer.sentence)}</span>
            </p>
            <Fits list={answer.fits.slice(0, FIRST)} items={items} />
            {answer.fits.length > FIRST && (
              <Fold title={`${counted(answer.fits.length - FIRST, 'more')}`}>
                <Fits list={answer.fits.slice(FIRST)} items={items} />
              </Fold>
            )}
            {answer.others.length > 0 && (
              <Fold title={`Why not ${counted(answer.others.length, 'other')}`}>
                <Fits list={answer.others} items={items} />
              </Fold>
            )}
          </>
        )}
        {elsewhere.map((one) => (
          <Elsewhere key={one.line.id} {...one} />
        ))}
      </div>
    </div>
  );
}

interface AnswerElsewhere {
  readonly line: OtherLineView;
  readonly answer?: StockFitView;
  readonly problem?: ServiceProblem;
}

function Elsewhere({ line, answer, problem }: AnswerElsewhere) {
  return (
    <div data-testid="fit-elsewhere">
      <h3>On the shelf of {line.title}</h3>
      {problem && <ProblemNote problem={problem} />}
      {answer && <p>{unbroken(answer.sentence)}</p>}
      {answer && <Fits list={answer.fits.slice(0, FIRST)} items={[]} at={line.address} />}
    </div>
  );
}

function Fits({ list, items, at = '' }: { list: readonly Fit[]; items: readonly StockItem[]; at?: string }) {
  if (list.length === 0) return null;
  return (
    <ul class="stock-fits">
      {list.map(({ code, sentence }) => (
        <li key={code}>
          <a href={`${at}/c/${code}`}>{items.find((item) => item.code === code)?.name ?? code}</a>: {unbroken(sentence)}
        </li>
      ))}
    </ul>
  );
}
