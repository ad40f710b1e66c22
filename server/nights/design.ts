import { keysInOrder, preparationOnly, type Value, type Values } from '../preparation/fields.ts';

/** A field that was not the same in all nights, with its levels in rising order; words with the most frequent first. */
export interface Factor {
  readonly key: string;
  readonly levels: readonly Level[];
  /** Level by night; null = not known. */
  readonly levelOf: readonly (number | null)[];
  /** Index of its first column in the design. */
  readonly firstColumn: number;
}

interface Level {
  readonly value: Value;
  readonly nights: number;
}

export interface Design {
  /** One row per night; the first column is 1. Columns of a factor are centred, so that 0 stands for an average night. */
  readonly rows: readonly (readonly number[])[];
  readonly factors: readonly Factor[];
  /** Fields known in too few nights to say anything. */
  readonly leftOut: readonly string[];
}

/** More numbers are put into groups of about as many nights. */
const LEVELS_MAX = 5;
/** A field that is not known in more of the nights says too little. Common practice, no source. */
const KNOWN_SHARE = 0.5;

/**
 * Codes the fields of all nights. A number has a column for each step between neighbouring levels, so that its effect may end
 * or turn anywhere; a word has one for each level but the first. A night in which the field is not known counts as average.
 */
export function designOf(nights: readonly Values[]): Design {
  const factors: Factor[] = [];
  const leftOut: string[] = [];
  const rows = nights.map(() => [1]);
  for (const key of keysInOrder(preparationOnly(Object.assign({}, ...nights)))) {
    const values = nights.map((night) => night[key]);
    const known = values.filter((value) => value !== undefined);
    const { levels, levelOf } = levelsOf(values);
    if (levels.length < 2) {
      if (known.length < nights.length && levels.length > 0 && known.length > 0) leftOut.push(key);
      continue;
    }
    if (known.length < nights.length * KNOWN_SHARE) {
      leftOut.push(key);
      continue;
    }
    const factor: Factor = { key, levels, levelOf, firstColumn: rows[0]!.length };
    factors.push(factor);
    for (let step = 1; step < levels.length; step++) {
      const raw = levelOf.map((level) => (level === null ? null : codeOf(factor, level, step)));
      const sure = raw.filter((one) => one !== null);
      const mean = sure.reduce((sum, one) => sum + one, 0) / sure.length;
      for (const [i, one] of raw.entries()) rows[i]!.push(one === null ? 0 : one - mean);
    }
  }
  return { rows, factors, leftOut };
}

/** The entry of a level in the column of a step, from 1, before it is centred. */
function codeOf({ levels }: Pick<Factor, 'levels'>, level: number, step: number): number {
  const ordered = typeof levels[0]!.value === 'number';
  return (ordered ? level >= step : level === step) ? 1 : 0;
}

/** What changes in the columns of a factor between two of its levels. */
export function contrastOf(factor: Factor, from: number, to: number): readonly number[] {
  return factor.levels.slice(1).map((_, i) => codeOf(factor, to, i + 1) - codeOf(factor, from, i + 1));
}

function levelsOf(values: readonly (Value | undefined)[]): Pick<Factor, 'levels' | 'levelOf'> {
  const known = values.filter((value) => value !== undefined);
  const numbers = known.filter((value) => typeof value === 'number');
  if (numbers.length === known.length && numbers.length > 0) return levelsOfNumbers(values as (number | undefined)[]);
  // “Grey” and “grey” are one word, shown as it was written first.
  const words = values.map((value) => (typeof value === 'string' ? value.toLowerCase() : value));
  const counts = new Map<Value, number>();
  for (const word of words) if (word !== undefined) counts.set(word, (counts.get(word) ?? 0) + 1);
  // A word of one night only cannot be told from that night.
  const kept = [...counts].filter(([, nights]) => nights >= 2).sort(([, a], [, b]) => b - a);
  const levels = kept.map(([word, nights]) => ({ value: values[words.indexOf(word)]!, nights }));
  const levelOf = words.map((word) => {
    const at = kept.findIndex(([one]) => one === word);
    return at < 0 ? null : at;
  });
  return { levels, levelOf };
}

function levelsOfNumbers(values: readonly (number | undefined)[]): Pick<Factor, 'levels' | 'levelOf'> {
  const known = values.filter((value) => value !== undefined).toSorted((a, b) => a - b);
  const distinct = [...new Set(known)];
  const groups =
    distinct.length <= LEVELS_MAX
      ? distinct.map((value) => [value])
      : Array.from({ length: LEVELS_MAX - 1 }, (_, i) => {
          const edge = (share: number) => known[Math.floor(share * known.length)] ?? Number.POSITIVE_INFINITY;
          const [from, to] = [edge(i / (LEVELS_MAX - 1)), edge((i + 1) / (LEVELS_MAX - 1))];
          return distinct.filter((value) => value >= from && (value < to || i === LEVELS_MAX - 2));
        }).filter((group) => group.length > 0);
  const levelOf = values.map((value) =>
    value === undefined ? null : groups.findIndex((group) => value <= group.at(-1)!),
  );
  return {
    levels: groups.map((group, i) => {
      const inside = known.filter((value) => value >= group[0]! && value <= group.at(-1)!);
      const mean = inside.reduce((sum, value) => sum + value, 0) / inside.length;
      return { value: Number(mean.toPrecision(3)), nights: levelOf.filter((one) => one === i).length };
    }),
    levelOf,
  };
}
