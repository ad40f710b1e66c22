import type { ComponentType } from 'preact';
import { useEffect, useState } from 'preact/hooks';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { ProblemNote } from './problem-note.tsx';

interface Props<P> {
  readonly page: () => Promise<{ readonly default: ComponentType<P> }>;
  /** What it is given. */
  readonly with: P;
}

/** A page, or a part of one, that is fetched when it is first opened. */
export function Lazily<P extends object>({ page, with: given }: Props<P>) {
  const [Page, setPage] = useState<ComponentType<P> | null>(null);
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const load = () =>
    page().then(
      (module) => {
        setPage(() => module.default);
        setProblem(null);
      },
      (thrown) => setProblem(asProblem(thrown)),
    );
  useEffect(() => {
    load();
  }, [page]);
  if (problem) return <ProblemNote problem={problem} again={load} />;
  return Page === null ? <p class="quiet">Fetching the page …</p> : <Page {...given} />;
}
