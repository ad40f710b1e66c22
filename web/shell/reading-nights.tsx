import { useEffect, useState } from 'preact/hooks';

const LONG_MS = 1500;

/** While the service looks through all nights, which takes seconds only the first time. */
export function ReadingNights() {
  const [isLong, setIsLong] = useState(false);
  useEffect(() => {
    const timer = setTimeout(() => setIsLong(true), LONG_MS);
    return () => clearTimeout(timer);
  }, []);
  return (
    <p class="quiet" role="status">
      Reading all nights …
      {isLong && ' The first time after a start, the service looks at each of them: about a second for a hundred.'}
    </p>
  );
}
