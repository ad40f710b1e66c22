const waiting: (() => void)[] = [];
let scheduled = false;

function next(): void {
  scheduled = false;
  const show = waiting.shift();
  // First, so that the others still get their turn if this one throws.
  if (waiting.length > 0) schedule();
  show?.();
}

function schedule(): void {
  scheduled = true;
  setTimeout(next);
}

/**
 * Calls one after the other, each in a separate task: between tasks the browser responds to presses.
 * @returns cancels the call if it is still waiting
 */
export function inTurn(show: () => void): () => void {
  waiting.push(show);
  if (!scheduled) schedule();
  return () => {
    const at = waiting.indexOf(show);
    if (at >= 0) waiting.splice(at, 1);
  };
}
