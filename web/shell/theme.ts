import { effect, signal } from '@preact/signals';

export type Theme = 'system' | 'light' | 'dark';
const KEY = 'strandward.colours';

export const theme = signal<Theme>('system');

/** Rises whenever the colours of the page may have changed, so that canvases read them again. */
export const coloursVersion = signal(0);

export function startTheme(): void {
  const saved = localStorage.getItem(KEY);
  if (saved === 'light' || saved === 'dark') theme.value = saved;
  effect(() => {
    const chosen = theme.value;
    if (chosen === 'system') delete document.documentElement.dataset.theme;
    else document.documentElement.dataset.theme = chosen;
    localStorage.setItem(KEY, chosen);
    coloursVersion.value = coloursVersion.peek() + 1;
  });
  matchMedia('(prefers-color-scheme: dark)').addEventListener('change', () => {
    coloursVersion.value += 1;
  });
}
