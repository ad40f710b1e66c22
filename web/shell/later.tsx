import type { JSX } from 'preact';
import { useEffect, useState } from 'preact/hooks';
import { inTurn } from './in-turn.ts';

/** For what is below the first screen or folded: renders it after the first picture. */
export function Later({ children }: { children: () => JSX.Element }) {
  const [shown, setShown] = useState(false);
  useEffect(() => inTurn(() => setShown(true)), []);
  return shown ? children() : null;
}
