import { fieldOf, levelText } from '../preparation/fields.ts';
import { listed } from '../problem/sentence.ts';
import type { Estimate, FieldEffect } from './effects.ts';
import type { OutcomeKey } from './outcomes.ts';

/** Blobs per 100 m with sensible digits. */
export function rateText(rate: number): string {
  return rate < 10 ? rate.toFixed(1) : rate.toFixed(0);
}

interface OutcomeWords {
  readonly number: (value: number) => string;
  readonly before: string;
  readonly after: string;
  readonly less: string;
  readonly more: string;
}

const WORDS: Readonly<Record<OutcomeKey, OutcomeWords>> = {
  blobs: { number: rateText, before: '', after: ' per 100 m', less: 'fewer blobs', more: 'more blobs' },
  good: {
    number: (percent) => percent.toFixed(percent > 90 && percent < 99.95 ? 1 : 0),
    before: '',
    after: ' %',
    less: 'less good strand',
    more: 'more good strand',
  },
  spread: {
    number: (mm) => mm.toFixed(3),
    before: 'σ ',
    after: ' mm',
    less: 'a steadier diameter',
    more: 'a less steady diameter',
  },
};

/** One sentence on what a field does to an outcome, which agrees with its interval. */
export function effectText(outcome: OutcomeKey, field: FieldEffect): string {
  const { key, levels, finding, largest, changedWith } = field;
  const { number, before, after, less, more } = WORDS[outcome];
  const [from, to] = [levels[largest.from]!, levels[largest.to]!];
  const { title } = fieldOf(key);
  const span = `${levelText(key, from.value)} → ${levelText(key, to.value)}`;
  const together =
    changedWith.length === 0
      ? ''
      : ` It was nearly always changed together with ${listed(changedWith.map((one) => fieldOf(one).title.toLowerCase()))}, so the nights cannot tell which of them did it.`;
  if (finding === 'notShown') return `${title}: no effect is shown. ${openText(outcome, field)}${together}`;
  const range = `${number(to.estimate.lower)} to ${number(to.estimate.upper)}`;
  const change = `${before}${number(from.estimate.value)} → ${number(to.estimate.value)}${after} (95 %: ${range})`;
  if (finding === 'perhaps')
    return `${title} ${span}: perhaps ${change}. It may be chance: repeat both before you rely on it.${together}`;
  const did = to.estimate.value < from.estimate.value ? less : more;
  return `${title} ${span} went with ${did}: ${change}.${flatText(key, levels, largest.to)}${together}`;
}

/** What the nights leave open. */
function openText(outcome: OutcomeKey, { key, levels, largest }: FieldEffect): string {
  const [from, to] = [levels[largest.from]!, levels[largest.to]!];
  const between = `Between ${levelText(key, from.value)} and ${levelText(key, to.value)}`;
  const { number, after } = WORDS[outcome];
  // A factor of odds says nothing to anyone.
  if (outcome === 'good') {
    const share = ({ value, lower, upper }: Estimate) =>
      `${number(value)}${after} (${number(lower)} to ${number(upper)})`;
    return `It was ${share(from.estimate)} with ${levelText(key, from.value)}, and ${share(to.estimate)} with ${levelText(key, to.value)}.`;
  }
  const { lower, upper } = largest.ratio;
  const what = outcome === 'blobs' ? 'as many blobs' : 'as much spread';
  return `${between} anything from ${factorText(lower)} to ${factorText(upper)} times ${what} fits these nights.`;
}

/** What happens beyond the level with the largest effect. */
function flatText(key: string, levels: FieldEffect['levels'], to: number): string {
  const at = levels[to]!;
  const last = levels.at(-1)!;
  if (typeof at.value !== 'number' || last === at) return '';
  const overlap = last.estimate.lower <= at.estimate.upper && at.estimate.lower <= last.estimate.upper;
  return overlap ? ` Beyond ${levelText(key, at.value)} no further change is shown.` : '';
}

function factorText(factor: number): string {
  return factor >= 10 ? factor.toFixed(0) : factor.toFixed(1);
}
