import { diameter, percent, speed, temperature } from '../format/numbers.ts';

/** How a signal is scaled and written on a chart. */
export interface Quantity {
  /** A value with its unit. */
  readonly text: (value: number | null) => string;
  /** A value at the axis, without its unit. */
  readonly tick: (value: number) => string;
  /** The range is widened to this at least, so that noise does not fill the chart; a fixed range leaves nothing to fit. */
  readonly range: { readonly atLeast: number } | { readonly fixed: readonly [number, number] };
}

const plain = (value: number) => String(value);

export const QUANTITIES = {
  diameter: { text: (v) => `${diameter(v)} mm`, tick: plain, range: { atLeast: 0.2 } },
  temperature: { text: (v) => `${temperature(v)} °C`, tick: plain, range: { atLeast: 4 } },
  power: { text: percent, tick: (v) => String(Math.round(v * 100)), range: { fixed: [0, 1] } },
  speed: { text: (v) => `${speed(v)} mm/s`, tick: plain, range: { atLeast: 2 } },
} as const satisfies Record<string, Quantity>;
