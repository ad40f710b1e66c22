import type { SteadinessView } from '../../server/api/contract/judgement.ts';
import type { SpectrumView } from '../../server/api/contract/spool-analysis.ts';
import { diameter, metres } from '../format/numbers.ts';

const NBSP = '\u00a0';

/** Whether the diameter was steady along the strand, and if not, since where. */
export function steadinessText({ finding, change, atMm, smallestStepMm }: SteadinessView): string {
  const step = smallestStepMm === null ? null : `${diameter(smallestStepMm)}${NBSP}mm`;
  if (finding === 'unknown') {
    const visible = step === null ? '' : ` Only a step of more than about ${step} would stand out.`;
    return `Not known: the diameter wanders so slowly that this much strand does not show whether its level changed.${visible}`;
  }
  if (change === null) {
    const unseen = step === null ? '' : ` A step of less than about ${step} may have gone unnoticed.`;
    return `Steady: over ${metres((atMm.at(-1) ?? 0) - (atMm[0] ?? 0), 0)}${NBSP}m the mean diameter varied no more than by chance.${unseen}`;
  }
  const { beforeMm, afterMm, uncertaintyMm } = change;
  const by = `${diameter(Math.abs(afterMm - beforeMm))}${NBSP}mm ${afterMm > beforeMm ? 'thicker' : 'thinner'}`;
  if (finding === 'creep')
    return `Not steady: the strand gets ${by} along the spool, from ${diameter(beforeMm)} at the inner end to ${diameter(afterMm)}${NBSP}mm.`;
  const digits = uncertaintyMm < 1000 ? 1 : 0;
  const place = `${metres(change.atMm, digits)} (±${NBSP}${metres(uncertaintyMm, digits)})${NBSP}m`;
  return `Not steady: from ${place} on, the strand is ${by}, ${diameter(afterMm)} instead of ${diameter(beforeMm)}${NBSP}mm on average.`;
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

/** The shortest wave that can be known, and the parts of the line that turn faster. */
export function shortestPeriodText({ shortestPeriod, candidateCauses, unit }: SpectrumView): string {
  if (shortestPeriod === null) return '';
  const faster = candidateCauses.filter(({ period }) => period !== null && period < shortestPeriod);
  const unseen =
    faster.length === 0 ? '' : ` That leaves out one turn or cycle of: ${faster.map(({ name }) => name).join(', ')}.`;
  return `Waves shorter than ${periodText(shortestPeriod, unit)} do not show in these readings.${unseen}`;
}

export function sharperText(sharperIn: SpectrumView['peaks'][number]['sharperIn']): string {
  if (sharperIn === 'same') return '';
  return sharperIn === 'length'
    ? 'Sharper along the strand, as from something that rolls on it.'
    : 'Sharper in time, as from something that turns or switches at its own pace.';
}
