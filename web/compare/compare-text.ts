import type { ComparisonView, MeasureView } from '../../server/api/contract/comparison.ts';
import { capital, listed } from '../../server/problem/sentence.ts';
import { diameter, metres } from '../format/numbers.ts';

type Unit = MeasureView['unit'];
type Comparison = MeasureView['comparisons'][number];
type Interval = Comparison['interval'];

/** Factors nearer to 1 say nothing to anyone. */
const LEAST_FACTOR = 1.05;
const NBSP = '\u00a0';
const MINUS = '\u2212';

/** A value as a number, without its unit. */
function numberOf(unit: Unit, value: number): string {
  switch (unit) {
    case 'mm':
      return diameter(value);
    case 'share':
      return shareDigits(value);
    case 'm':
      return metres(value * 1000, 1);
    case 'kelvin':
      return value.toFixed(2);
    case 'per100m':
    case 'perHour':
      return value.toFixed(value < 10 ? 1 : 0);
  }
}

const UNIT_TEXT: Readonly<Record<Unit, string>> = {
  mm: 'mm',
  share: '%',
  m: 'm',
  kelvin: 'K',
  per100m: 'in 100 m',
  perHour: 'an hour',
};

/** The label of an axis for such values. */
export function unitText(unit: Unit): string {
  return unit === 'share' ? '% of the strand' : UNIT_TEXT[unit];
}

/** "0.4 in 100 m"; "not known". */
function valueText(unit: Unit, value: number | null): string {
  return value === null ? 'not known' : `${numberOf(unit, value)}${NBSP}${UNIT_TEXT[unit]}`;
}

/** "0.4 (0.1 to 1.2) in 100 m". */
export function valueWithInterval(unit: Unit, value: number | null, interval: Interval): string {
  if (value === null || interval === null) return valueText(unit, value);
  return `${numberOf(unit, value)} (${numberOf(unit, interval.lower)} to ${numberOf(unit, interval.upper)})${NBSP}${UNIT_TEXT[unit]}`;
}

/** Which runs are too short for an interval of their standard deviation; empty where none is, or for other measures. */
export function tooShortText({ key, runs }: MeasureView): string {
  if (key !== 'sd') return '';
  const short = runs.filter(({ value, interval }) => value !== null && interval === null).map(({ name }) => name);
  if (short.length === 0) return '';
  return `${capital(listed(short))} ${short.length === 1 ? 'is' : 'are'} too short for an interval: over so little strand the diameter may not have shown how far it wanders.`;
}

export const FINDING_TEXT: Readonly<Record<Comparison['finding'], string>> = {
  differs: 'more than chance',
  unsure: 'perhaps chance',
  chance: 'may well be chance',
  unknown: 'chance cannot be ruled out or shown',
};

/** "Group B has 5.2 times as many (2.1 to 14) as group A: more than chance." */
export function comparisonText(measure: MeasureView, comparison: Comparison, groups: ComparisonView['groups']): string {
  const { difference, interval, finding, basis } = comparison;
  const name = groups[comparison.group]?.name ?? '';
  const reference = groups[0]?.name ?? '';
  const how = difference === null ? null : differenceText(measure, difference, interval, name, reference);
  const found = `${FINDING_TEXT[finding]}${finding === 'unknown' ? `, ${whyUnknown(basis, groups, comparison.group)}` : ''}`;
  const needed = neededText(measure, comparison, groups);
  if (difference !== null && isNothing(measure, difference) && finding !== 'differs')
    return `${capital(name)} is like ${reference}.${needed}`;
  if (how === null) return `${capital(name)} compared with ${reference}: ${found}.${needed}`;
  return `${capital(how)}: ${found}.${needed}`;
}

/** Too little to be worth a number: "0.000 mm more", "1.01 times as much". */
function isNothing({ differsBy, unit }: MeasureView, difference: number): boolean {
  if (differsBy === 'amount') return Number(numberOf(unit, difference)) === 0;
  return difference > 1 / LEAST_FACTOR && difference < LEAST_FACTOR;
}

/** How many runs would show a difference worth seeing; empty where one was found, or that is not known. */
function neededText(
  { differsBy, unit, worthSeeing }: MeasureView,
  { finding, runsNeeded, group }: Comparison,
  groups: ComparisonView['groups'],
): string {
  if (finding === 'differs' || runsNeeded === null || worthSeeing === null) return '';
  const runs = [groups[0], groups[group]].map((one) => one?.runs.length ?? 0);
  if (Math.min(...runs) >= runsNeeded) return '';
  const size = differsBy === 'factor' ? `a factor of ${factorText(worthSeeing)}` : amountText(unit, worthSeeing);
  // With one run of each, only what varies within a run is known.
  const about = Math.max(...runs) > 1 ? 'About' : 'At least';
  return ` ${about} ${runsNeeded} runs of each would show ${size}.`;
}

/** Names a difference and its size: by how much `name` has more or less, or how many times as much whichever has more. */
function differenceText(
  { differsBy, unit }: MeasureView,
  difference: number,
  interval: Interval,
  name: string,
  reference: string,
): string {
  if (differsBy === 'amount') {
    const [size, ends] = [Math.abs(difference), interval === null ? '' : rangeOfAmounts(unit, difference, interval)];
    return `${name} has ${amountText(unit, size)} ${difference < 0 ? 'less' : 'more'}${ends} than ${reference}`;
  }
  if (difference === 0) return `${name} has none, so fewer than ${reference}`;
  const isLess = difference < 1;
  const factor = isLess ? 1 / difference : difference;
  const ends = isLess ? interval && { lower: 1 / interval.upper, upper: 1 / interval.lower } : interval;
  const [more, less] = isLess ? [reference, name] : [name, reference];
  const muchOrMany = unit === 'per100m' || unit === 'perHour' ? 'many' : 'much';
  return `${more} has ${factorText(factor)} times as ${muchOrMany}${factorRange(ends)} as ${less}`;
}

function factorRange(interval: Interval): string {
  const isKnown = interval !== null && interval.lower > 0 && Number.isFinite(interval.upper);
  return isKnown ? ` (${factorText(interval.lower)} to ${factorText(interval.upper)})` : '';
}

function rangeOfAmounts(unit: Unit, difference: number, { lower, upper }: NonNullable<Interval>): string {
  const [from, to] = difference < 0 ? [-upper, -lower] : [lower, upper];
  return ` (${amount(unit, from)} to ${amount(unit, to)})`;
}

/** A difference of shares is given in points, because a percentage of a percentage confuses. */
function amountText(unit: Unit, size: number): string {
  return `${amount(unit, size)}${NBSP}${unit === 'share' ? 'percentage points' : UNIT_TEXT[unit]}`;
}

function amount(unit: Unit, value: number): string {
  const text = numberOf(unit, Math.abs(value));
  return value < 0 && Number(text) !== 0 ? `${MINUS}${text}` : text;
}

function factorText(factor: number): string {
  return factor >= 10 ? factor.toFixed(0) : factor >= 1.2 || factor <= 0.8 ? factor.toFixed(1) : factor.toFixed(2);
}

function whyUnknown(basis: Comparison['basis'], groups: ComparisonView['groups'], group: number): string {
  const lone = groups[0]?.runs.length === 1 && groups[group]?.runs.length === 1;
  if (basis !== null) return 'because a value is missing';
  return lone
    ? 'because each run gives only one value'
    : 'because too few runs of a group are known, or they do not differ';
}

function shareDigits(share: number): string {
  const per = share * 100;
  // 99.98 % must not show as 100 %.
  const digits = per !== 0 && per !== 100 && (Math.abs(per) < 1 || (per > 99 && per < 100)) ? 2 : 1;
  return per.toFixed(digits);
}
