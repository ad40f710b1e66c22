import type { ChartsView } from '../../server/api/contract/judgement.ts';
import type { SpectrumView } from '../../server/api/contract/on-the-spool.ts';
import { counted } from '../format/numbers.ts';

const NBSP = '\u00a0';

type Signal = ChartsView['individuals']['signals'][number];

const RULE_TEXT: Record<Exclude<Signal['rule'], 'beyond3Sigma'>, string> = {
  twoOfThreeBeyond2Sigma: 'two of three beyond 2 σ',
  fourOfFiveBeyond1Sigma: 'four of five beyond 1 σ',
  eightOnOneSide: 'eight on one side',
};

/** The findings of the Western Electric rules in one sentence. */
export function signalText(signals: readonly Signal[], beyond: number): string {
  const others = (Object.keys(RULE_TEXT) as (keyof typeof RULE_TEXT)[]).flatMap((rule) => {
    const n = signals.filter((signal) => signal.rule === rule).length;
    return n === 0 ? [] : [`${RULE_TEXT[rule]}: ${counted(n, 'time')}`];
  });
  if (beyond === 0 && others.length === 0) return 'In control: no point and no run of points stands out.';
  const first = beyond === 0 ? 'No point is beyond 3 σ' : `${counted(beyond, 'point is', 'points are')} beyond 3 σ`;
  return `${[first, ...others].join('; ')}.`;
}

/** The range of several lines with a small margin; never empty. */
export function boundsOf(lines: readonly (readonly (number | null)[])[]): [number, number] {
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  for (const line of lines) {
    for (const value of line) {
      if (value === null || !Number.isFinite(value)) continue;
      if (value < low) low = value;
      if (value > high) high = value;
    }
  }
  if (low > high) return [0, 1];
  const air = (high - low) * 0.08 || 0.001;
  return [low - air, high + air];
}

/** A period in m or mm along the strand, or in min, s or ms, with at most `digits` significant digits. */
export function periodText(period: number, unit: SpectrumView['unit'], digits = 2): string {
  const withUnit = (value: number, name: string) => {
    const rounded = Number(value.toPrecision(digits));
    return `${rounded}${NBSP}${name}`;
  };
  if (unit === 'mm') return period >= 1000 ? withUnit(period / 1000, 'm') : withUnit(period, 'mm');
  if (period >= 120) return withUnit(period / 60, 'min');
  return period >= 1 ? withUnit(period, 's') : withUnit(period * 1000, 'ms');
}

export function sharperText(sharperIn: SpectrumView['peaks'][number]['sharperIn']): string {
  if (sharperIn === 'same') return '';
  return sharperIn === 'length'
    ? 'Sharper along the strand, as from something that rolls on it.'
    : 'Sharper in time, as from something that turns or switches at its own pace.';
}
