import type { DoneCut } from '../../strand/plan/done-cuts.ts';
import type { MeasuredSection } from '../../strand/section.ts';
import type { LineParts } from '../../strand/spectrum/named-causes.ts';
import type {
  CoilFindings,
  JudgedSpool,
  LineBuild,
  PlanChoices,
  PlannedSpool,
  SpectrumFindings,
  SpoolAnalysis,
  SpoolFindings,
  SummedSpool,
} from './spool-analysis.ts';
import type { SpoolCase } from './spool-case.ts';

/** What can be asked of an analysis, with what it answers. Plain data both ways: they travel to a thread and back. */
export interface Questions {
  /** What the detector finds, without what was said of it, as far as it reaches. */
  sections: { readonly given: Record<never, never>; readonly answer: readonly MeasuredSection[] };
  judge: { readonly given: Record<never, never>; readonly answer: JudgedSpool };
  findings: { readonly given: { readonly printMm: number; readonly line: LineBuild }; readonly answer: SpoolFindings };
  plan: {
    readonly given: { readonly choices: PlanChoices; readonly done: readonly DoneCut[] };
    readonly answer: PlannedSpool;
  };
  coils: {
    readonly given: { readonly choices: PlanChoices; readonly done: readonly DoneCut[] };
    readonly answer: PlannedSpool & { readonly coils: readonly CoilFindings[] };
  };
  summed: { readonly given: Record<never, never>; readonly answer: SummedSpool };
  spectrum: { readonly given: { readonly parts: LineParts }; readonly answer: SpectrumFindings };
}

export type QuestionName = keyof Questions;
export type Question = {
  [Name in QuestionName]: { readonly what: Name; readonly spool: SpoolCase } & Questions[Name]['given'];
}[QuestionName];

export function answerTo(analysis: SpoolAnalysis, question: Question): Questions[QuestionName]['answer'] {
  const { spool } = question;
  switch (question.what) {
    case 'sections':
      return analysis.sections(spool);
    case 'judge':
      return analysis.judge(spool);
    case 'findings':
      return analysis.findings(spool, question.printMm, question.line);
    case 'plan':
      return analysis.plan(spool, question.choices, question.done);
    case 'coils': {
      const planned = analysis.plan(spool, question.choices, question.done);
      return { ...planned, coils: analysis.coils(spool, planned.plan.coils, question.choices.shortestMm) };
    }
    case 'summed':
      return analysis.summed(spool);
    case 'spectrum':
      return analysis.spectrum(spool, question.parts);
  }
}
