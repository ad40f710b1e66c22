import type { Static } from 'typebox';
import { PRIORITIES } from '../../alarm/alarm.ts';
import { QUESTION_STATES } from '../../escalation/people-service.ts';
import { routes } from './route-table.ts';
import { bool, bytes, component, input, int, list, numOrNull, oneOf, orNull, text } from './schema.ts';

export const QuestionView = component('Question', {
  kind: oneOf(['alarm', 'drill']),
  names: list(text(), 'The people on whose behalf the link answers'),
  state: oneOf(QUESTION_STATES),
  occurrences: orNull(
    int({ description: 'How often the alarm has occurred; send it back as seenOccurrences with the answer' }),
  ),
  answeredBy: orNull(text()),
  title: text(),
  text: text(),
  firstCheck: text(),
  caution: text(),
  atMs: numOrNull(),
  priority: orNull(oneOf(PRIORITIES)),
  hasPicture: bool('A picture of the strand is available'),
});
export type QuestionView = Static<typeof QuestionView>;

const TokenParam = input({
  token: text({ maxLength: 1000, description: 'From the link in the message; it is valid for this one answer only' }),
});

/** What the link in a message opens; its token replaces any right. GET never answers, because chat services open every link. */
export const answers = routes({
  'GET /api/answers/:token': {
    operationId: 'getQuestion',
    tag: 'people',
    right: 'none',
    summary: 'Get what the link in a message asks',
    description: 'The alarm or alarm test that the message was about, and whether it still needs an answer.',
    params: TokenParam,
    answers: { 200: QuestionView },
  },
  'GET /api/answers/:token/picture': {
    operationId: 'getQuestionPicture',
    tag: 'people',
    right: 'none',
    summary: 'Get a picture of the strand that the message is about',
    description: 'A PNG of the diameter around that place, with the limits.',
    params: TokenParam,
    answers: { 200: bytes() },
    produces: ['image/png'],
  },
  'POST /api/answers/:token': {
    operationId: 'answerQuestion',
    tag: 'people',
    right: 'none',
    summary: 'Answer an alarm or an alarm test',
    description: 'Acknowledges the alarm, or confirms the alarm test. Changes nothing if no answer is needed any more.',
    params: TokenParam,
    body: orNull(
      input({
        seenOccurrences: orNull(
          int({ minimum: 0 }),
          'The number that the user saw: the answer is refused if the alarm has occurred again since',
        ),
      }),
    ),
    answers: { 200: QuestionView },
  },
});
