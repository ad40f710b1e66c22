import { useId, useRef, useState } from 'preact/hooks';
import type { TermName } from './glossary.ts';

/** Fetched when the first explanation is opened, because most readers need none. */
const fetchGlossary = () => import('./glossary.ts');
const NOT_FETCHED = 'The explanation cannot be fetched now. Check that the service is running.';

/** Distance from the edges of the screen and from the mark, px. */
const GAP = 8;
/** Height of two sentences on a phone, px. */
const ROOM = 200;

/** A word, with a mark that explains it. */
export function Term({ of, children }: { of: TermName; children: string }) {
  return (
    <>
      {children}
      {'\u00a0'}
      <TermMark of={of} name={children} />
    </>
  );
}

/** A `?` that opens two sentences above everything else, so that nothing moves. Escape or a tap elsewhere closes them. */
export function TermMark({ of, name }: { of: TermName; name: string }) {
  const id = useId();
  const mark = useRef<HTMLButtonElement>(null);
  const [text, setText] = useState<string | null>(null);
  const load = () =>
    fetchGlossary().then(
      ({ GLOSSARY }) => setText(GLOSSARY[of]),
      () => setText(NOT_FETCHED),
    );
  return (
    <>
      <button
        ref={mark}
        type="button"
        class="term-mark no-print"
        popovertarget={id}
        aria-label={`What does “${name}” mean?`}
      >
        ?
      </button>
      <span
        id={id}
        popover="auto"
        class="term-text"
        // With the focus in it, a screen reader reads it; when it closes, the focus returns to the mark.
        tabIndex={-1}
        onBeforeToggle={({ currentTarget, newState }) => {
          if (newState !== 'open') return;
          void load();
          if (mark.current) placeAt(currentTarget, mark.current.getBoundingClientRect());
        }}
        onToggle={({ currentTarget, newState }) => {
          if (newState === 'open') currentTarget.focus();
        }}
      >
        {text ?? '…'}
      </span>
    </>
  );
}

/** Below the mark, or above it at the bottom of the screen. */
function placeAt(box: HTMLElement, mark: DOMRect): void {
  const isBelow = mark.bottom + ROOM < innerHeight || mark.top < ROOM;
  box.style.top = isBelow ? `${mark.bottom + GAP}px` : 'auto';
  box.style.bottom = isBelow ? 'auto' : `${innerHeight - mark.top + GAP}px`;
  // The style sheet keeps it within the screen.
  box.style.setProperty('--mark', `${mark.left}px`);
}
