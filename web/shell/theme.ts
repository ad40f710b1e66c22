import { effect, signal } from '@preact/signals';

export type Theme = 'system' | 'light' | 'dark';
const KEY = 'strandward.colours';

export const theme = signal<Theme>('system');

/** Rises whenever the colours of the page may have changed, so that canvases read them again. */
export const coloursVersion = signal(0);

export function startTheme(): void {
  const saved = localStorage.getItem(KEY);
  if (saved === 'light' || saved === 'dark') theme.value = saved;
  const show = (shown: Theme) => {
    if (shown === 'system') delete document.documentElement.dataset.theme;
    else document.documentElement.dataset.theme = shown;
    coloursVersion.value = coloursVersion.peek() + 1;
  };
  effect(() => {
    const chosen = theme.value;
    show(chosen);
    localStorage.setItem(KEY, chosen);
  });
  // Style sheets adapt to paper automatically; canvases must be redrawn for it.
  addEventListener('beforeprint', () => show('light'));
  addEventListener('afterprint', () => show(theme.peek()));
  matchMedia('(prefers-color-scheme: dark)').addEventListener('change', () => {
    coloursVersion.value += 1;
  });
}
