import type { Static } from 'typebox';
import { PROBLEMS, type ProblemCode } from '../../problem/problem.ts';
import { component, int, oneOf, orNull, text } from './schema.ts';

export const ProblemView = component(
  'Problem',
  {
    type: text({ description: 'urn:strandward:problem:CODE' }),
    title: text({ description: 'What is wrong' }),
    status: int(),
    detail: text({ description: 'What to do' }),
    code: oneOf(Object.keys(PROBLEMS) as ProblemCode[], 'Code for programs; its meaning never changes'),
    pointer: orNull(text(), 'JSON pointer (RFC 6901) to the field of the body or query; null = about no single field'),
  },
  'What went wrong and what to do about it, as RFC 9457 problem details.',
);
export type ProblemView = Static<typeof ProblemView>;
