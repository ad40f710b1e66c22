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
  const place = document.createElement('div');
  place.hidden = true;
  const samples = NAMES.map((name) => {
    const sample = document.createElement('i');
    sample.style.color = `var(--${name})`;
    return [name, sample] as const;
  });
  place.append(...samples.map(([, sample]) => sample));
  document.body.append(place);
  // All are read after all were set: a colour set in between would have the styles of the page computed again.
  const colours = Object.fromEntries(
    samples.map(([name, sample]) => [name, getComputedStyle(sample).color]),
  ) as Colours;
  place.remove();
  return colours;
}

export const CANVAS_FONT =
  '"Segoe UI Variable Text", "Segoe UI", -apple-system, "SF Pro Text", Roboto, "Noto Sans", "Helvetica Neue", "Liberation Sans", Arial, sans-serif';
