import type { Defects } from '../../strand/comparison/stretch-sums.ts';
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
import type { SpoolCase } from './spool-case.ts';
import type { SpoolColumns } from './spool-columns.ts';
import type { StrandCharts } from './strand-figures.ts';

/** What can be asked of an analysis, with what it answers. Plain data both ways: they travel to a thread and back. */
export interface Questions {
  sections: { readonly given: Record<never, never>; readonly answer: readonly MeasuredSection[] };
  examine: { readonly given: Record<never, never>; readonly answer: Examination };
  charts: { readonly given: Record<never, never>; readonly answer: StrandCharts | null };
  coils: {
    readonly given: { readonly coils: readonly { readonly fromMm: number; readonly toMm: number }[] };
    readonly answer: readonly CoilFigures[];
  };
  stretches: {
    readonly given: { readonly woundMm: number; readonly spoilt: Defects };
    readonly answer: StretchesOfSpool;
  };
  spectrum: { readonly given: { readonly parts: LineParts }; readonly answer: SpectrumFindings };
}

export type QuestionName = keyof Questions;
export type Question = {
  [Name in QuestionName]: { readonly what: Name; readonly spool: SpoolCase } & Questions[Name]['given'];
}[QuestionName];

/** Judges what was found; holds the readings of one spool, and answers about those that were given last. */
export function createSpoolFunctions() {
  let analysis: SpoolAnalysis | null = null;
  return {
    judge: judgementOf,
    plan: planFor,
    /** @param more they lie behind those that were given last, of the same spool */
    take(columns: SpoolColumns, more: boolean): void {
      if (more && analysis !== null) analysis.add(columns);
      else analysis = new SpoolAnalysis(columns);
    },
    answer(question: Question): Questions[QuestionName]['answer'] {
      if (analysis === null) throw new TypeError('A question came before the readings that it is about.');
      const { spool } = question;
      switch (question.what) {
        case 'sections':
          return analysis.sections(spool);
        case 'examine':
          return analysis.examine(spool);
        case 'charts':
          return analysis.charts(spool);
        case 'coils':
          return analysis.coils(spool, question.coils);
        case 'stretches':
          return analysis.stretches(spool, question.woundMm, question.spoilt);
        case 'spectrum':
          return analysis.spectrum(spool, question.parts);
      }
    },
  };
}
