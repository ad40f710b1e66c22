import { useEffect, useState } from 'preact/hooks';
import type { QuestionView } from '../../server/api/people-contract.ts';
import { asProblem, request, type ServiceProblem } from '../service/request.ts';
import { ProblemNote } from '../shell/problem-note.tsx';
import { Shape } from '../shell/shape.tsx';
import '../styles/people.css';
import { clock } from '../words/times.ts';

/** Where the link of a message leads: one huge button that answers it. */
export default function AnswerPage({ token }: { token: string }) {
  const [question, setQuestion] = useState<QuestionView | null>(null);
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const ask = (method: 'GET' | 'POST') =>
    request<QuestionView>(method, `/api/answers/${encodeURIComponent(token)}`)
      .then((answer) => {
        setQuestion(answer);
        setProblem(null);
      })
      .catch((thrown) => setProblem(asProblem(thrown)));
  useEffect(() => {
    ask('GET');
  }, [token]);
  const drill = question?.what === 'drill';
  const shape = question?.state === 'open' ? (drill ? 'notice' : 'danger') : 'calm';
  return (
    <section class="answer" data-testid="answer" data-state={question?.state ?? 'unknown'}>
      {question && (
        <>
          <header>
            <Shape of={shape} size={40} />
            <h1>{question.title}</h1>
          </header>
          <p class="answer-text">{question.text}</p>
          {question.atMs !== null && <p class="quiet">{clock(question.atMs)}</p>}
          {question.firstCheck && (
            <p>
              <strong>First check.</strong> {question.firstCheck}
            </p>
          )}
          {question.caution && <p class="caution">{question.caution}</p>}
          {question.state === 'open' && (
            <button type="button" class="main answer-button" onClick={() => ask('POST')}>
              {drill ? 'It reached me' : 'I take care of it'}
            </button>
          )}
          {question.state === 'answered' && (
            <p class="answer-done" role="status">
              {drill ? 'Confirmed. Thank you: the alarm reaches you.' : 'Acknowledged. Nobody else is called.'}
            </p>
          )}
          {question.state === 'over' && drill && <p role="status">This drill is over: the answer comes too late.</p>}
          {question.names.length > 0 && <p class="fine">In the name of {question.names.join(', ')}.</p>}
        </>
      )}
      {problem && <ProblemNote problem={problem} />}
      <p class="actions">
        <a href="/">Open the live page</a>
      </p>
    </section>
  );
}
