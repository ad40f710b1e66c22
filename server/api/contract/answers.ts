import type { Static } from 'typebox';
import { PRIORITIES } from '../../alarm/alarm.ts';
import { QUESTION_STATES } from '../../escalation/people-service.ts';
import { routes } from './route-table.ts';
import { bytes, given, int, list, named, numOrNull, oneOf, orNull, text, yes } from './schema.ts';

export const QuestionView = named('Question', {
  what: oneOf(['alarm', 'drill']),
  names: list(text(), 'In whose name it is answered'),
  state: oneOf(QUESTION_STATES),
  occurrences: orNull(int({ description: 'How often the alarm has happened; send it with the answer' })),
  answeredBy: orNull(text()),
  title: text(),
  text: text(),
  firstCheck: text(),
  caution: text(),
  atMs: numOrNull(),
  priority: orNull(oneOf(PRIORITIES)),
  pictured: yes('There is a picture of the strand'),
});
export type QuestionView = Static<typeof QuestionView>;

const TokenParam = given({ token: text({ maxLength: 1000, description: 'From the link; it opens this one answer' }) });

/** Where the link in a message leads. The token is the key. Looking answers nothing, for chat services look at every link. */
export const answers = routes({
  'GET /api/answers/:token': {
    operationId: 'getQuestion',
    tag: 'people',
    summary: 'What the link in a message asks',
    description: 'The alarm or the alarm test that the message was about, and whether it still waits for an answer.',
    params: TokenParam,
    answers: { 200: QuestionView },
    keyless: true,
  },
  'GET /api/answers/:token/picture': {
    operationId: 'getQuestionPicture',
    tag: 'people',
    summary: 'A picture of the strand that the message is about',
    description: 'A PNG of the diameter around that place, with its limits.',
    params: TokenParam,
    answers: { 200: bytes() },
    produces: ['image/png'],
    keyless: true,
  },
  'POST /api/answers/:token': {
    operationId: 'answerQuestion',
    tag: 'people',
    summary: 'Answer it',
    description: 'Acknowledges the alarm, or confirms the alarm test. What does not wait for an answer stays as it is.',
    params: TokenParam,
    body: orNull(
      given({
        seenOccurrences: orNull(
          int({ minimum: 0 }),
          'As the person saw it: refused if the alarm has happened again since',
        ),
      }),
    ),
    answers: { 200: QuestionView },
    keyless: true,
  },
});
