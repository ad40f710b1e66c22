import { effectText } from '../nights/effect-text.ts';
import type { Effects } from '../nights/effects.ts';
import type { Night } from '../nights/outcomes.ts';
import { suggestionOf } from '../nights/suggestion.ts';
import { fieldOf, levelText } from '../preparation/fields.ts';
import type { EffectsView } from './contract/nights.ts';

/** @param nights of which these are the effects */
export function effectsView(effects: Effects, nights: readonly Night[], notAnswered: readonly string[]): EffectsView {
  const wound = nights.filter(({ measuredMm }) => measuredMm > 0).map(({ measuredMm }) => measuredMm);
  if (!effects.known)
    return {
      whyUnknown: effects.why,
      nights: wound.length,
      outcomes: [],
      leftOut: [],
      suggestion: null,
      notAnswered: [...notAnswered],
    };
  const typicalMm = wound.toSorted((a, b) => a - b)[Math.floor(wound.length / 2)]!;
  const blobs = effects.outcomes.find(({ key }) => key === 'blobs');
  return {
    whyUnknown: null,
    nights: effects.nights,
    outcomes: effects.outcomes.map(({ key: outcome, fields, ...more }) => ({
      ...more,
      key: outcome,
      fields: fields.map((field) => ({
        key: field.key,
        title: fieldOf(field.key).title,
        sentence: effectText(outcome, field),
        finding: field.finding,
        p: field.p,
        levels: field.levels.map(({ value, nights: count, estimate }) => ({
          text: levelText(field.key, value),
          nights: count,
          estimate,
        })),
      })),
    })),
    leftOut: effects.leftOut.map((key) => fieldOf(key).title),
    suggestion: blobs === undefined ? null : suggestionOf(blobs, typicalMm),
    notAnswered: [...notAnswered],
  };
}
