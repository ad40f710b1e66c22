import { useEffect, useState } from 'preact/hooks';

/** Longer than usual, and longer than all nights take unless an update has changed how spools are examined. */
const LONG_MS = [1500, 10_000] as const;

/** While the service looks through all nights, which takes seconds only the first time. */
export function ReadingNights() {
  const [passed, setPassed] = useState(0);
  useEffect(() => {
    const timers = LONG_MS.map((ms, i) => setTimeout(setPassed, ms, i + 1));
    return () => timers.forEach(clearTimeout);
  }, []);
  return (
    <p class="quiet" role="status">
      Reading all nights …
      {passed === 1 &&
        ' The first time after a start, the service looks at each of them: about a second for a hundred.'}
      {passed === 2 && ' After an update, the service may examine every spool once more, which takes minutes.'}
    </p>
  );
}
