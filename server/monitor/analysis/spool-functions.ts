import { effectsOf } from '../../nights/effects.ts';
import { trendsOfNights } from '../../nights/trend-figures.ts';
import type { Defects } from '../../strand/comparison/stretch-sums.ts';
import { relatedReadings } from '../../strand/relation/related-readings.ts';
import type { MeasuredSection } from '../../strand/section.ts';
import type { LineParts } from '../../strand/spectrum/named-causes.ts';
import { judgementOf, planFor } from '../spool/judgement.ts';
import {
  type CoilFigures,
  type Examination,
  type SpectrumFindings,
  SpoolAnalysis,
  type StretchesOfSpool,
} from './spool-analysis.ts';
import type { AnalysedSpool, SpoolColumns } from './spool-columns.ts';
import type { StrandSteadiness } from './strand-figures.ts';

/** The questions that an analysis can answer. Input and answer are plain data, because they are passed to a worker and back. */
export interface Questions {
  sections: { readonly input: Record<never, never>; readonly answer: readonly MeasuredSection[] };
  examine: { readonly input: Record<never, never>; readonly answer: Examination };
  steadiness: { readonly input: Record<never, never>; readonly answer: StrandSteadiness | null };
  coils: {
    readonly input: { readonly coils: readonly { readonly fromMm: number; readonly toMm: number }[] };
    readonly answer: readonly CoilFigures[];
  };
  stretches: {
    readonly input: { readonly woundMm: number; readonly defects: Defects };
    readonly answer: StretchesOfSpool;
  };
  spectrum: { readonly input: { readonly parts: LineParts }; readonly answer: SpectrumFindings };
}

export type QuestionName = keyof Questions;
export type Question = {
  [Name in QuestionName]: { readonly what: Name; readonly spool: AnalysedSpool } & Questions[Name]['input'];
}[QuestionName];

/** Functions of the analysis worker. It holds the readings of one spool at a time and answers questions about it. */
export function createSpoolFunctions() {
  let analysis: SpoolAnalysis | null = null;
  return {
    judge: judgementOf,
    plan: planFor,
    relate: relatedReadings,
    effects: effectsOf,
    trends: trendsOfNights,
    /** @param more add them to the readings held, of the same spool; else replace these */
    load(columns: SpoolColumns, more: boolean): void {
      if (!more || analysis === null) analysis = new SpoolAnalysis();
      analysis.add(columns);
    },
    answer(question: Question): Questions[QuestionName]['answer'] {
      if (analysis === null) throw new TypeError('Load the readings of a spool before asking about it.');
      const { spool } = question;
      switch (question.what) {
        case 'sections':
          return analysis.sections(spool);
        case 'examine':
          return analysis.examine(spool);
        case 'steadiness':
          return analysis.steadiness(spool);
        case 'coils':
          return analysis.coils(spool, question.coils);
        case 'stretches':
          return analysis.stretches(spool, question.woundMm, question.defects);
        case 'spectrum':
          return analysis.spectrum(spool, question.parts);
      }
    },
  };
}
