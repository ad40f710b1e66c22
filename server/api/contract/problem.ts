import type { Static } from 'typebox';
import { int, named, text } from './schema.ts';

export const ProblemView = named(
  'Problem',
  {
    type: text({ description: 'urn:strandward:problem:CODE' }),
    title: text({ description: 'What is wrong' }),
    status: int(),
    detail: text({ description: 'What to do' }),
  },
  'What went wrong and what to do about it, as RFC 9457 problem details.',
);
export type ProblemView = Static<typeof ProblemView>;
