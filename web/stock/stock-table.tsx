import { useState } from 'preact/hooks';
import type { StockItem } from '../../server/api/contract/stock.ts';
import { grams, metresWithError } from '../format/numbers.ts';
import { shortDay } from '../format/times.ts';
import { FITNESS_SHAPE, FITNESS_TEXT } from '../judgement/fitness-text.ts';
import { may } from '../service/session.ts';
import { ExampleMark } from '../shell/example-mark.tsx';
import { Shape } from '../shell/shape.tsx';
import { UseForm } from './use-form.tsx';

interface Props {
  readonly label: string;
  readonly items: readonly StockItem[];
  /** Called with an item after its use was recorded; absent = that is not done here. */
  readonly changed?: (item: StockItem) => void;
  /** Address of the line on whose shelf it is; absent = of this one. */
  readonly at?: string;
}

/** One row for each coil or spool; on a phone, a few lines each. */
export function StockTable({ label, items, changed, at = '' }: Props) {
  const [open, setOpen] = useState<string | null>(null);
  return (
    <table class="stock-table" aria-label={label}>
      <thead>
        <tr>
          <th scope="col">Coil or spool</th>
          <th scope="col">Material</th>
          <th scope="col">Left</th>
          <th scope="col">Mass</th>
          <th scope="col">Wound</th>
          <th scope="col">Quality</th>
          <th scope="col">
            <span class="visually-hidden">Record use</span>
          </th>
        </tr>
      </thead>
      <tbody>
        {items.map((item) => (
          <Row
            key={item.code}
            item={item}
            isOpen={open === item.code}
            open={(isOpen) => setOpen(isOpen ? item.code : null)}
            changed={changed}
            at={at}
          />
        ))}
      </tbody>
    </table>
  );
}

interface RowProps {
  readonly item: StockItem;
  readonly isOpen: boolean;
  readonly open: (isOpen: boolean) => void;
  readonly changed: ((item: StockItem) => void) | undefined;
  readonly at: string;
}

function Row({ item, isOpen, open, changed, at }: RowProps) {
  const { code, name, kind, material, colour, leftMm, leftUncertaintyMm, leftGrams, fitness } = item;
  const isUsedUp = item.usedUpBy !== null || leftMm === 0;
  return (
    <>
      <tr data-testid="stock-row">
        <th scope="row">
          <a href={`${at}/c/${code}`}>{name}</a>
          <small>{kind === 'spool' ? 'not cut' : code}</small>
          {item.example && <ExampleMark />}
        </th>
        <td>
          {material === '' && colour === '' ? <span class="quiet">material not entered</span> : material}
          {colour !== '' && <small>{colour}</small>}
        </td>
        <td class="stock-left">
          {item.usedUpBy !== null ? (
            <span>used up ({item.usedUpBy})</span>
          ) : (
            <span>
              {item.isAtMost && 'at most '}
              {metresWithError(leftMm, leftUncertaintyMm)}
            </span>
          )}
          {item.isLow && !isUsedUp && (
            <small class="with-shape">
              <Shape of="notice" size={14} /> running low
            </small>
          )}
        </td>
        <td>{leftGrams === null ? '–' : grams(leftGrams)}</td>
        <td>{shortDay(item.startedMs, item.timeZone)}</td>
        <td>
          <span class="with-shape">
            <Shape of={FITNESS_SHAPE[fitness]} size={18} />
            <span>{FITNESS_TEXT[fitness]}</span>
          </span>
        </td>
        <td>
          {changed && may('act') && !isUsedUp && !item.example && (
            <button
              type="button"
              aria-expanded={isOpen}
              aria-label={`Record use of ${name}`}
              onClick={() => open(!isOpen)}
            >
              Record use
            </button>
          )}
        </td>
      </tr>
      {isOpen && changed && (
        <tr class="stock-form-row">
          <td colSpan={7}>
            <UseForm
              item={item}
              done={(after) => {
                changed(after);
                open(false);
              }}
              changed={changed}
            />
          </td>
        </tr>
      )}
    </>
  );
}
