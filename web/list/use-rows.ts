import { useEffect, useState } from 'preact/hooks';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { inSlices } from './in-slices.ts';

/**
 * The rows of a list: at first the newest, then more and more; after a change all at once. `rows`: null = not yet known.
 * @param ask for at most so many rows; without a number, for all
 * @param changes when one of these changes, the rows are asked for again
 */
export function useRows<Row>(
  ask: (query: { newest?: number }) => Promise<readonly Row[]>,
  changes: readonly unknown[],
) {
  const [rows, setRows] = useState<readonly Row[] | null>(null);
  const [complete, setComplete] = useState(false);
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  useEffect(() => {
    const show = (some: readonly Row[]) => {
      setRows(some);
      setProblem(null);
    };
    const all =
      rows === null
        ? inSlices(
            (newest) => ask({ newest }),
            (some, newest) => some.length < newest,
            show,
          )
        : ask({});
    all.then(
      (every) => {
        show(every);
        setComplete(true);
      },
      (thrown) => setProblem(asProblem(thrown)),
    );
  }, changes);
  return { rows, complete, problem };
}
