import type { JSX } from 'preact';
import { useEffect, useState } from 'preact/hooks';
import { inTurn } from './in-turn.ts';

interface Props {
  readonly children: () => JSX.Element;
  /** Keeps its place until then. */
  readonly until?: JSX.Element;
}

/** For what is below the first screen or folded: renders it after the first picture, each in a separate task. */
export function Later({ children, until }: Props) {
  const [shown, setShown] = useState(false);
  useEffect(() => inTurn(() => setShown(true)), []);
  return shown ? children() : (until ?? null);
}
