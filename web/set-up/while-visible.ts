/** Looks at once, and again while the page is visible, each time after the last look has ended, until the returned function is called. */
export function whileVisible(everyMs: number, look: (over: AbortSignal) => Promise<void>): () => void {
  const over = new AbortController();
  let timer: ReturnType<typeof setTimeout> | undefined;
  const next = async () => {
    if (document.visibilityState === 'visible') await look(over.signal);
    if (!over.signal.aborted) timer = setTimeout(next, everyMs);
  };
  void next();
  return () => {
    clearTimeout(timer);
    over.abort();
  };
}
