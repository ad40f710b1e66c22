import { fieldOf, type Value } from '../preparation/fields.ts';
import { listed } from '../problem/sentence.ts';
import type { FieldEffect, Rate } from './effects.ts';

/** "8 h", "grey", "yes". */
export function levelText(key: string, value: Value): string {
  const { unit } = fieldOf(key);
  if (typeof value === 'boolean') return value ? 'yes' : 'no';
  return unit === '' ? String(value) : `${value} ${unit}`;
}

/** Blobs per 100 m with sensible digits. */
export function rateText(rate: number): string {
  return rate < 10 ? rate.toFixed(1) : rate.toFixed(0);
}

/** "3.1 to 6.0". */
function intervalText({ lower, upper }: Rate): string {
  return `${rateText(lower)} to ${rateText(upper)}`;
}

/** One sentence on what a field does, which agrees with its interval. */
export function effectText({ key, levels, finding, largest, changedWith }: FieldEffect): string {
  const [from, to] = [levels[largest.from]!, levels[largest.to]!];
  const { title } = fieldOf(key);
  const span = `${levelText(key, from.value)} → ${levelText(key, to.value)}`;
  const together =
    changedWith.length === 0
      ? ''
      : ` It was nearly always changed together with ${listed(changedWith.map((one) => fieldOf(one).title.toLowerCase()))}, so the nights cannot tell which of them did it.`;
  if (finding === 'notShown') {
    const { lower, upper } = largest.ratio;
    return `${title}: no effect is shown. Between ${levelText(key, from.value)} and ${levelText(key, to.value)} anything from ${factorText(lower)} to ${factorText(upper)} times as many blobs fits these nights.${together}`;
  }
  const change = `${rateText(from.rate.value)} → ${rateText(to.rate.value)} per 100 m (95 %: ${intervalText(to.rate)})`;
  if (finding === 'perhaps')
    return `${title} ${span}: perhaps ${change}. It may be chance: repeat both before you rely on it.${together}`;
  const did = to.rate.value < from.rate.value ? 'went with fewer blobs' : 'went with more blobs';
  return `${title} ${span} ${did}: ${change}.${flatText(key, levels, largest.to)}${together}`;
}

/** What happens beyond the level with the largest effect. */
function flatText(key: string, levels: FieldEffect['levels'], to: number): string {
  const at = levels[to]!;
  const last = levels.at(-1)!;
  if (typeof at.value !== 'number' || last === at) return '';
  const overlap = last.rate.lower <= at.rate.upper && at.rate.lower <= last.rate.upper;
  return overlap ? ` Beyond ${levelText(key, at.value)} no further change is shown.` : '';
}

function factorText(factor: number): string {
  return factor >= 10 ? factor.toFixed(0) : factor.toFixed(1);
}
