import type { ServiceProblem } from '../service/request.ts';
import { Shape } from './shape.tsx';

/** A problem: what is wrong, and what to do. */
export function ProblemNote({ problem, again }: { problem: ServiceProblem; again?: () => void }) {
  return (
    <div class="problem" role="alert">
      <Shape of="abnormal" size={20} />
      <p>
        <strong>{problem.message}</strong> {problem.detail}
        {again && (
          <>
            {' '}
            <button type="button" class="plain" onClick={again}>
              Try again
            </button>
          </>
        )}
      </p>
    </div>
  );
}
