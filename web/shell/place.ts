/** A page on a slow line; afterwards, to move it would only startle. */
const WITHIN_MS = 10_000;

let giveUp: (() => void) | null = null;

/** Scrolls to what the address names after its #, once it is drawn; not if the reader scrolls first. */
export function showPlace(): void {
  giveUp?.();
  const id = location.hash.slice(1);
  if (id === '' || shown(id)) return;
  const over = new AbortController();
  giveUp = () => over.abort();
  const watch = new MutationObserver(() => {
    if (shown(id)) over.abort();
  });
  watch.observe(document.body, { childList: true, subtree: true });
  const late = setTimeout(giveUp, WITHIN_MS);
  over.signal.addEventListener('abort', () => {
    watch.disconnect();
    clearTimeout(late);
  });
  for (const type of ['wheel', 'touchmove', 'keydown'])
    addEventListener(type, giveUp, { signal: over.signal, passive: true });
}

function shown(id: string): boolean {
  const place = document.getElementById(id);
  place?.scrollIntoView();
  return place !== null;
}
