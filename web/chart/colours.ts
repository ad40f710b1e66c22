/** The page's colours for canvases, read from the style sheet so that there is one place that says them. */
const NAMES = [
  'paper',
  'ink',
  'ink-2',
  'ink-3',
  'rule',
  'rule-2',
  'strand',
  'strand-lit',
  'strand-dim',
  'band',
  'danger',
  'danger-ink',
  'danger-soft',
  'abnormal',
  'abnormal-ink',
  'abnormal-soft',
  'normal',
  'act',
  'envelope',
] as const;

export type Colours = Record<(typeof NAMES)[number], string>;

export function readColours(): Colours {
  const style = getComputedStyle(document.documentElement);
  return Object.fromEntries(NAMES.map((name) => [name, style.getPropertyValue(`--${name}`).trim()])) as Colours;
}

export const CANVAS_FONT =
  '"Segoe UI Variable Text", "Segoe UI", -apple-system, "SF Pro Text", Roboto, "Noto Sans", "Helvetica Neue", "Liberation Sans", Arial, sans-serif';
