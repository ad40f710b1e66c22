import { fieldOf, levelText } from '../preparation/fields.ts';
import { rateText } from './effect-text.ts';
import type { FieldEffect, OutcomeEffects } from './effects.ts';
import { LINE_FIELD } from './outcomes.ts';

export interface Suggestion {
  /** What to try. */
  readonly what: string;
  readonly why: string;
  readonly costs: string;
  /** What two nights of each would show. */
  readonly learnt: string;
}

/** Nights of each of two preparations, wound in turn. */
const NIGHTS_EACH = 2;
/** About 95 % of the chance that one night differs from another. */
const SURE = 2;

/**
 * What to try next. A shown effect whose best level is at the end of what was tried goes one step further; otherwise an effect that
 * may be chance is repeated; otherwise the field about which least is known is tried. Words name no steps, so they come last.
 * @param effects on blobs
 */
export function suggestionOf(effects: OutcomeEffects, typicalMm: number): Suggestion | null {
  // Another line is no way of preparing the material.
  const fields = effects.fields.filter(({ key }) => key !== LINE_FIELD);
  const further = fields.filter(({ finding }) => finding === 'shown').map(oneStepFurther);
  const step = further.find((one) => one !== null);
  if (step) return told(effects, typicalMm, step);
  const perhaps = fields.find(({ finding }) => finding === 'perhaps');
  const [widest] = fields
    .filter(({ finding }) => finding === 'notShown')
    .toSorted((a, b) => Number(isWord(a)) - Number(isWord(b)) || widthOf(b) - widthOf(a));
  const open = perhaps ?? widest;
  if (open === undefined) return null;
  const [from, to] = [open.levels[open.largest.from]!, open.levels[open.largest.to]!];
  const name = fieldOf(open.key).title.toLowerCase();
  return told(effects, typicalMm, {
    key: open.key,
    value: levelText(open.key, to.value),
    against: levelText(open.key, from.value),
    rate: from.estimate.value,
    extraHours: hoursMore(open.key, from.value, to.value),
    why:
      open === perhaps
        ? `What ${name} did may be chance.`
        : `Of the fields without a shown effect, least is known about ${name}.`,
  });
}

interface Step {
  readonly key: string;
  readonly value: string;
  readonly against: string;
  readonly rate: number;
  readonly extraHours: number;
  readonly why: string;
}

function oneStepFurther({ key, levels }: FieldEffect): Step | null {
  const { minimum = Number.NEGATIVE_INFINITY, maximum = Number.POSITIVE_INFINITY, title } = fieldOf(key);
  const best = levels.reduce((least, level) => (level.estimate.value < least.estimate.value ? level : least));
  const at = levels.indexOf(best);
  const neighbour = at === 0 ? levels[1]! : at === levels.length - 1 ? levels[at - 1]! : null;
  if (neighbour === null || typeof best.value !== 'number' || typeof neighbour.value !== 'number') return null;
  // The last step must have shown something: otherwise more of it promises nothing.
  if (best.estimate.upper >= neighbour.estimate.value) return null;
  const value = Number((best.value + (best.value - neighbour.value) / 2).toPrecision(3));
  if (value < minimum || value > maximum) return null;
  return {
    key,
    value: levelText(key, value),
    against: levelText(key, best.value),
    rate: best.estimate.value,
    extraHours: hoursMore(key, best.value, value),
    why: `${title} of ${levelText(key, best.value)} is the most extreme value tried so far, and the step to it still helped.`,
  };
}

function told(effects: OutcomeEffects, typicalMm: number, step: Step): Suggestion {
  const betweenNights = Math.log(effects.nightsDifferBy.value) ** 2;
  const blobs = Math.max(0.5, (step.rate * typicalMm) / 100_000);
  const factor = Math.exp(SURE * Math.sqrt((2 / NIGHTS_EACH) * (betweenNights + 1 / blobs)));
  const name = fieldOf(step.key).title.toLowerCase();
  const hours = step.extraHours > 0 ? `, each with ${step.extraHours} h more drying` : '';
  return {
    what: `Try ${name} ${step.value} against ${step.against}, ${NIGHTS_EACH} nights of each in turn, with all else the same.`,
    why: step.why,
    costs: `${2 * NIGHTS_EACH} nights and about ${((2 * NIGHTS_EACH * typicalMm) / 1000).toFixed(0)} m of strand${hours && `; ${NIGHTS_EACH} of them${hours.slice(1)}`}.`,
    learnt: `At ${rateText(step.rate)} blobs per 100 m, that would show a factor of ${factor.toFixed(1)} or more; a smaller one needs more nights.`,
  };
}

function hoursMore(key: string, from: unknown, to: unknown): number {
  return key === 'dryingH' ? Math.max(0, Number(to) - Number(from)) : 0;
}

function isWord({ levels }: FieldEffect): boolean {
  return typeof levels[0]?.value === 'string';
}

function widthOf({ largest: { ratio } }: FieldEffect): number {
  return Math.log(ratio.upper / ratio.lower);
}
