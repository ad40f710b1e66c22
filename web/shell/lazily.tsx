import type { ComponentType } from 'preact';
import { useEffect, useState } from 'preact/hooks';
import { asProblem, ServiceProblem } from '../service/request.ts';
import { ProblemNote } from './problem-note.tsx';

/** A page, or part of one, whose code is fetched separately. */
export interface LazyPart<P> {
  /** Null = not fetched yet. */
  readonly component: () => ComponentType<P> | null;
  /** Rejects with a ServiceProblem if the code cannot be fetched. The next call tries again. */
  readonly fetch: () => Promise<void>;
}

export function lazyPart<P>(load: () => Promise<{ readonly default: ComponentType<P> }>): LazyPart<P> {
  let component: ComponentType<P> | null = null;
  return {
    component: () => component,
    fetch: async () => {
      if (component !== null) return;
      try {
        component = (await load()).default;
      } catch {
        throw new ServiceProblem(
          0,
          'This part could not be fetched from the service.',
          'Check that the service is running. If it was updated in the meantime, reload the page.',
        );
      }
    },
  };
}

interface Props<P> {
  readonly part: LazyPart<P>;
  /** Props of the part. */
  readonly with: P;
}

export function Lazily<P extends object>({ part, with: props }: Props<P>) {
  const [, setShown] = useState(part.component() === null ? null : part);
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const fetch = () =>
    part.fetch().then(
      () => {
        setShown(part);
        setProblem(null);
      },
      (thrown) => setProblem(asProblem(thrown)),
    );
  useEffect(() => {
    // Even if it has been fetched by now: it may have arrived after this was rendered without it.
    void fetch();
  }, [part]);
  if (problem) return <ProblemNote problem={problem} again={fetch} />;
  const Part = part.component();
  return Part === null ? <p class="quiet fetching">Fetching …</p> : <Part {...props} />;
}
