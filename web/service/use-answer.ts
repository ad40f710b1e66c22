import { useEffect, useState } from 'preact/hooks';
import { refetchVersion } from './live-store.ts';
import { asProblem, type ServiceProblem } from './request.ts';

/**
 * An answer of the service, null until it has come, and what went wrong with the last request. It is asked again when the
 * page has missed something. `put`: replaces the answer, such as by that to a change.
 */
export function useAnswer<T>(ask: () => Promise<T>): {
  readonly view: T | null;
  readonly problem: ServiceProblem | null;
  readonly put: (change: (now: T | null) => T | null) => void;
} {
  const [view, put] = useState<T | null>(null);
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const version = refetchVersion.value;
  useEffect(() => {
    ask().then(
      (answer) => {
        put(() => answer);
        setProblem(null);
      },
      (thrown) => setProblem(asProblem(thrown)),
    );
  }, [version]);
  return { view, problem, put };
}
