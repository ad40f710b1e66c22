import type { AdviceView } from '../../server/api/contract/live-state.ts';
import { metres } from '../format/numbers.ts';
import { Shape } from './shape.tsx';

/** Observations that are not alarms, each with what to check first. */
export function AdviceList({ advice }: { advice: readonly AdviceView[] }) {
  return (
    <ul class="advice-list">
      {advice.map((one) => (
        <li key={`${one.kind}-${one.fromMm}`} data-advice={one.kind}>
          <Shape of="notice" size={16} />
          <p>
            {one.sentence}
            {one.fromMm !== null && one.toMm !== null && !one.open && (
              <>
                {' '}
                From {metres(one.fromMm)} to {metres(one.toMm)} m.
              </>
            )}{' '}
            <span class="quiet">{one.hint}</span>
          </p>
        </li>
      ))}
    </ul>
  );
}
