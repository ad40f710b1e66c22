import { useEffect, useState } from 'preact/hooks';
import type { QuestionView } from '../../server/api/contract/answers.ts';
import { addressOf } from '../service/address.ts';
import { call } from '../service/call.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { ProblemNote } from '../shell/problem-note.tsx';
import { PRIORITY_SHAPE, Shape } from '../shell/shape.tsx';
import '../styles/answer.css';
import { PRIORITY_TEXT } from '../format/names.ts';
import { clock } from '../format/times.ts';
import { stateText } from './answer-text.ts';

/** A phone left open by the bed must show the current state. */
const LOOK_AGAIN_MS = 5000;

/** The page behind the link in a message: one huge button that acknowledges the alarm. */
export default function AnswerPage({ token }: { token: string }) {
  const [question, setQuestion] = useState<QuestionView | null>(null);
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const params = { token };
  const look = async (before: ServiceProblem | null = null) => {
    try {
      setQuestion(await call('GET /api/answers/:token', { params }));
      setProblem(before);
    } catch (thrown) {
      setProblem(asProblem(thrown));
    }
  };
  const answer = async () => {
    try {
      const body = { seenOccurrences: question?.occurrences ?? null };
      setQuestion(await call('POST /api/answers/:token', { params, body }));
      setProblem(null);
    } catch (thrown) {
      // Refused because the alarm has changed since it was shown.
      await look(asProblem(thrown));
    }
  };
  useEffect(() => {
    void look();
    const timer = setInterval(look, LOOK_AGAIN_MS, null);
    return () => clearInterval(timer);
  }, [token]);
  const drill = question?.kind === 'drill';
  const open = question?.state === 'open';
  const missed = question?.state === 'raisedAgain' || (drill && question.state === 'over');
  const priority = question?.priority ?? null;
  const shape = open ? (priority === null ? 'notice' : PRIORITY_SHAPE[priority]) : missed ? 'abnormal' : 'calm';
  const text = question === null ? '' : stateText(question);
  return (
    <section class="answer" data-testid="answer" data-state={question?.state ?? 'unknown'}>
      {question && (
        <>
          <header>
            <Shape of={shape} size={40} />
            <h1>{question.title}</h1>
          </header>
          <p class="answer-text">{question.text}</p>
          {question.hasPicture && (
            <img
              class="answer-picture"
              src={`${addressOf('GET /api/answers/:token/picture', { params })}?${question.occurrences}`}
              width={640}
              height={260}
              alt="The diameter around this place, with its limits"
            />
          )}
          {question.atMs !== null && (
            <p class="quiet">
              {[priority && PRIORITY_TEXT[priority], clock(question.atMs)].filter(Boolean).join(' · ')}
            </p>
          )}
          {question.firstCheck && (
            <p>
              <strong>Check first:</strong> {question.firstCheck}
            </p>
          )}
          {question.caution && <p class="caution">{question.caution}</p>}
          {open && (
            <button type="button" class="main answer-button" onClick={answer}>
              {drill ? 'I got it' : 'I’m on it'}
            </button>
          )}
          {text && (
            <p class={question.state === 'answered' ? 'answer-done' : 'answer-note'} role="status">
              {text}
            </p>
          )}
          {open && question.names.length > 0 && <p class="fine">On behalf of {question.names.join(', ')}.</p>}
        </>
      )}
      {problem && <ProblemNote problem={problem} />}
      <p class="actions">
        <a href="/">Open the live page</a>
      </p>
    </section>
  );
}
