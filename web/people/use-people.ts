import { useEffect, useState } from 'preact/hooks';
import { refetchVersion } from '../service/live-store.ts';
import { asProblem, isAbort, type ServiceProblem } from '../service/request.ts';
import { loadPeople } from './people-store.ts';

const EVERY_MS = 2000;

/** Keeps `people` up to date while the page is open. @returns why it could not be fetched last; null = it could */
export function useFreshPeople(): ServiceProblem | null {
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const version = refetchVersion.value;
  useEffect(() => {
    const over = new AbortController();
    const load = () =>
      loadPeople(over.signal)
        .then(() => setProblem(null))
        .catch((thrown) => {
          if (!isAbort(thrown)) setProblem(asProblem(thrown));
        });
    void load();
    const timer = setInterval(load, EVERY_MS);
    return () => {
      clearInterval(timer);
      over.abort();
    };
  }, [version]);
  return problem;
}
