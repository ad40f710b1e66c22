import { unitFor } from '../reading/units.ts';
import type { Guess } from './guess.ts';
import { indexOf } from './name-evidence.ts';
import { asRole, type ProposedRole } from './proposed-role.ts';

/** Two axes of one gauge differ by less, as a share of the diameter. */
const AXES_DIFFER_MAX = 0.12;
const MEAN_WITHIN = 0.006;

/** One is the diameter; two that agree are the axes of one gauge, also where a third is their mean. */
export function diameters(guesses: readonly Guess[], nominalMm: number): ProposedRole[] {
  const [best] = guesses;
  if (best === undefined) return [];
  const mm = ({ field, unit }: Guess) => field.last * (unitFor('d', unit)?.factor ?? 1);
  const axes = guesses.filter(
    (guess) =>
      guess.unit === best.unit &&
      guess.field.places === best.field.places &&
      Math.abs(mm(guess) - mm(best)) < AXES_DIFFER_MAX * nominalMm,
  );
  const mean = axes.length < 3 ? undefined : (axes.find(isNamedMean) ?? meanOf(axes));
  const two = axes.filter((one) => one !== mean && !isNamedMean(one));
  if (two.length !== 2) return [asRole(best, 'd')];
  const [x, y] = two.sort((a, b) => axisOf(a) - axisOf(b)) as [Guess, Guess];
  return [asRole(x, 'dx'), asRole(y, 'dy')];
}

const isNamedMean = ({ tokens }: Guess) => /^(?:mean|avg|average|mittel|med|media|moyenne)/.test(tokens.at(-1) ?? '');

/** The one of three that is the mean of the others, as nearly as none of them. */
function meanOf(axes: readonly Guess[]): Guess | undefined {
  const offs = axes.map((one) =>
    offMean(
      one,
      axes.filter((other) => other !== one),
    ),
  );
  const least = Math.min(...offs);
  return least <= MEAN_WITHIN ? axes[offs.indexOf(least)] : undefined;
}

/** How far a value is from the mean of two others, on average, as a share of it. */
function offMean(one: Guess, [a, b]: readonly Guess[]): number {
  if (a === undefined || b === undefined) return Number.POSITIVE_INFINITY;
  const offs = one.field.recent.flatMap((value, i) => {
    const mean = ((a.field.recent[i] ?? Number.NaN) + (b.field.recent[i] ?? Number.NaN)) / 2;
    return Number.isNaN(mean) || Number.isNaN(value) ? [] : [Math.abs(value - mean) / Math.abs(mean)];
  });
  return offs.reduce((sum, off) => sum + off, 0) / Math.max(1, offs.length);
}

function axisOf({ tokens }: Guess): number {
  if (tokens.some((token) => /^(?:dx|x|a|h|horizontal)$/.test(token))) return 0;
  if (tokens.some((token) => /^(?:dy|y|b|v|vertical)$/.test(token))) return 2;
  return indexOf(tokens) ?? 1;
}
