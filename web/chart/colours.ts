import { coloursVersion } from '../shell/theme.ts';

/** The page's colours for canvases, read from the style sheet so that they are defined in one place. */
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

let known: { readonly version: number; readonly colours: Colours } | null = null;

export function readColours(): Colours {
  const version = coloursVersion.peek();
  if (known?.version !== version) known = { version, colours: sampleColours() };
  return known.colours;
}

/** A property holds a light and a dark colour. Only an element coloured with it shows which one applies. */
function sampleColours(): Colours {
  const sample = document.createElement('i');
  sample.hidden = true;
  document.body.append(sample);
  const style = getComputedStyle(sample);
  const colours = Object.fromEntries(
    NAMES.map((name) => {
      sample.style.color = `var(--${name})`;
      return [name, style.color];
    }),
  ) as Colours;
  sample.remove();
  return colours;
}

export const CANVAS_FONT =
  '"Segoe UI Variable Text", "Segoe UI", -apple-system, "SF Pro Text", Roboto, "Noto Sans", "Helvetica Neue", "Liberation Sans", Arial, sans-serif';
