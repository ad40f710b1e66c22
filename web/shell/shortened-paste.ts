import { count } from '../format/numbers.ts';
import { showNotice } from './notice.tsx';

/** A browser silently keeps only as much of a pasted text as the field takes, so the page says what is missing. */
export function tellShortenedPastes(): void {
  document.addEventListener('paste', ({ target, clipboardData }) => {
    if (!(target instanceof HTMLInputElement || target instanceof HTMLTextAreaElement) || target.maxLength < 0) return;
    const { value, selectionStart, selectionEnd, maxLength } = target;
    const replaced = (selectionEnd ?? 0) - (selectionStart ?? 0);
    const missing = value.length - replaced + (clipboardData?.getData('text') ?? '').trim().length - maxLength;
    if (missing <= 0) return;
    const characters = missing === 1 ? 'last character' : `last ${count(missing)} characters`;
    showNotice({
      text: `This field takes ${count(maxLength)} characters. The ${characters} of the pasted text did not fit.`,
    });
  });
}
