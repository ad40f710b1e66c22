import type { JSX } from 'preact';
import { useEffect, useState } from 'preact/hooks';

const waiting: (() => void)[] = [];
let scheduled = false;

/** Shows one after the other, each in a separate task: between tasks the browser responds to presses. */
function next(): void {
  waiting.shift()?.();
  scheduled = waiting.length > 0;
  if (scheduled) setTimeout(next);
}

/** For what is below the first screen or folded: renders it after the first picture. */
export function Later({ children }: { children: () => JSX.Element }) {
  const [shown, setShown] = useState(false);
  useEffect(() => {
    const show = () => setShown(true);
    waiting.push(show);
    if (!scheduled) setTimeout(next);
    scheduled = true;
    return () => {
      const at = waiting.indexOf(show);
      if (at >= 0) waiting.splice(at, 1);
    };
  }, []);
  return shown ? children() : null;
}
