import { fieldOf, numberIn, type Value, type Values } from './fields.ts';

/** What a text says, and the steps of it that are no field. */
export interface ReadText {
  readonly values: Values;
  readonly rest: string;
}

/** The steps in "Sorted, dried 8 h at 50 °C; 30 % new pellets". A comma within a number does not separate steps. */
export function stepsOf(preparation: string): readonly string[] {
  return preparation
    .split(/;|\n|,(?!\d)|\.(?=\s|$)/)
    .map((step) => step.trim().replaceAll(/\s+/g, ' '))
    .filter((step) => step !== '');
}

const NUMBER = '(\\d+(?:[.,]\\d+)?)';
const TIME = new RegExp(`${NUMBER}\\s*(hours?|hrs?|h|minutes|min|days?|d)\\b`, 'gi');
const DEGREES = new RegExp(`${NUMBER}\\s*(°\\s*[CF]|[CF])(?![\\p{L}])`, 'giu');
const MESH = new RegExp(`${NUMBER}\\s*(mm|µm|μm|um|in)(?![\\p{L}])`, 'giu');
const SHARE = new RegExp(`${NUMBER}\\s*(%|percent)`, 'gi');
const AGE = new RegExp(`${NUMBER}\\s*(months?|years?|weeks?|days?)`, 'gi');
const PACE = new RegExp(`${NUMBER}\\s*(mm/s|cm/s|m/min)`, 'gi');
/** "4 to 6 h" is no value. */
const RANGE = /\d\s*(-|–|to|or|bis)\s*\d|\?|about|maybe|perhaps/i;
const NOT = /\b(not|no|never|without|un)\b/i;
const COLOURS =
  /\b(white|black|gr[ea]y|red|green|blue|yellow|orange|brown|purple|pink|clear|transparent|natural|mixed colours?)\b/i;
const TIMES: Readonly<Record<string, number>> = { once: 1, twice: 2, thrice: 3 };

/**
 * Reads the fields out of a user's own words. What is ambiguous stays in `rest`: a range, two values for one field, a step
 * with numbers that belong to no field. Meant to be confirmed by a user.
 */
export function readPreparation(preparation: string): ReadText {
  const values: Record<string, Value> = {};
  const rest: string[] = [];
  for (const step of stepsOf(preparation)) {
    const found = RANGE.test(step) ? null : readStep(step);
    const clashes = found !== null && Object.entries(found).some(([key, one]) => key in values && values[key] !== one);
    if (found === null || clashes) rest.push(step);
    else Object.assign(values, found);
  }
  return { values, rest: rest.join(', ') };
}

/** Null = it is no field, or says more than one. */
function readStep(step: string): Values | null {
  if (/\b(un-?dried|not dried|never dried|no drying|wet|without drying)\b/i.test(step)) return { dryingH: 0 };
  if (/\bdr(ied|ying|y)\b/i.test(step)) return driedIn(step);
  if (/\b(un-?(sieved|screened)|not (sieved|screened)|no sieve|without sieve)\b/i.test(step)) return { sieveMm: 0 };
  if (/\b(sieve[ds]?|screened|mesh)\b/i.test(step)) return only(step, { sieveMm: numbersIn(step, MESH, 'sieveMm') });
  if (/\bmagnet/i.test(step)) return /\d/.test(step) ? null : { magnet: !NOT.test(step) };
  if (/\b(new|virgin)\b.*\b(pellets?|granules?|material)\b|\b(new|virgin)$/i.test(step)) return newPelletsIn(step);
  if (/\bextruded\b/i.test(step)) return timesIn(step);
  if (/\bold\b/i.test(step)) return only(step, { wasteAgeMonths: numbersIn(step, AGE, 'wasteAgeMonths') });
  const zone = /\bzone\s*([1-7])\b/i.exec(step)?.[1];
  if (zone !== undefined) {
    const key = `zone${zone}C`;
    return only(step.replace(/zone\s*[1-7]/i, ''), { [key]: numbersIn(step, DEGREES, key) });
  }
  if (/\bdie\b/i.test(step)) return only(step, { dieC: numbersIn(step, DEGREES, 'dieC') });
  const pace = numbersIn(step, PACE, 'speedMmPerS');
  if (pace.length > 0) return only(step, { speedMmPerS: pace });
  const colour = COLOURS.exec(step)?.[0];
  return colour !== undefined && colour.length === step.replace(/^colour:?\s*/i, '').length
    ? { colour: colour.toLowerCase() }
    : null;
}

function driedIn(step: string): Values | null {
  const [hours, degrees] = [numbersIn(step, TIME, 'dryingH'), numbersIn(step, DEGREES, 'dryingC')];
  if (degrees.length > 0 && hours.length === 0) return only(step, { dryingC: degrees });
  return only(step, degrees.length === 0 ? { dryingH: hours } : { dryingH: hours, dryingC: degrees });
}

function newPelletsIn(step: string): Values | null {
  if (NOT.test(step)) return { newPelletsPercent: 0 };
  if (/\b(all|only)\b/i.test(step)) return { newPelletsPercent: 100 };
  return only(step, { newPelletsPercent: numbersIn(step, SHARE, 'newPelletsPercent') });
}

function timesIn(step: string): Values | null {
  const word = /\b(once|twice|thrice|\d+ times?)\b/i.exec(step)?.[1]?.toLowerCase();
  return word === undefined ? null : { timesExtruded: TIMES[word] ?? Number.parseInt(word, 10) };
}

/** Accepts a step if each field has exactly one number and no other number is left. */
function only(step: string, found: Readonly<Record<string, readonly number[]>>): Values | null {
  const all = Object.values(found);
  const numbers = step.match(/\d+(?:[.,]\d+)?/g) ?? [];
  if (all.some((some) => some.length !== 1) || numbers.length !== all.length) return null;
  return Object.fromEntries(Object.entries(found).map(([key, [one]]) => [key, one as number]));
}

function numbersIn(step: string, pattern: RegExp, key: string): number[] {
  return [...step.matchAll(pattern)].flatMap(([, digits = '', unit = '']) => {
    const read = numberIn(fieldOf(key), `${digits} ${unit.replaceAll(' ', '')}`);
    return read === null ? [] : [read];
  });
}
