import { effectText, levelText } from '../nights/effect-text.ts';
import { effectsOf, type Night } from '../nights/effects.ts';
import { suggestionOf } from '../nights/suggestion.ts';
import { fieldOf } from '../preparation/fields.ts';
import type { EffectsView } from './contract/nights.ts';

/** @param nights in any order, without examples */
export function effectsView(nights: readonly Night[]): EffectsView {
  const effects = effectsOf(nights);
  const wound = nights.filter(({ measuredMm }) => measuredMm > 0).map(({ measuredMm }) => measuredMm);
  if (!effects.known)
    return {
      whyUnknown: effects.why,
      nights: wound.length,
      average: null,
      nightsDifferBy: null,
      fields: [],
      leftOut: [],
      suggestion: null,
    };
  const typicalMm = wound.toSorted((a, b) => a - b)[Math.floor(wound.length / 2)]!;
  return {
    whyUnknown: null,
    nights: effects.nights,
    average: effects.average,
    nightsDifferBy: effects.nightsDifferBy,
    fields: effects.fields.map((field) => ({
      key: field.key,
      title: fieldOf(field.key).title,
      sentence: effectText(field),
      finding: field.finding,
      p: field.p,
      levels: field.levels.map(({ value, nights: count, rate }) => ({
        text: levelText(field.key, value),
        nights: count,
        rate,
      })),
    })),
    leftOut: effects.leftOut.map((key) => fieldOf(key).title),
    suggestion: suggestionOf(effects, typicalMm),
  };
}
