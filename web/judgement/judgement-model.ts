import { type Signal, signal } from '@preact/signals';
import type { LengthCorrectionInput, SpoolJudgement } from '../../server/api/contract/judgement.ts';
import type { ReelView } from '../../server/api/contract/on-the-spool.ts';
import { call } from '../service/call.ts';
import { asProblem, isAbort, type ServiceProblem } from '../service/request.ts';

/** What the service says of one spool for the printer that is chosen for it. */
export class JudgementModel {
  readonly spoolId: number;
  readonly judgement: Signal<SpoolJudgement | null> = signal(null);
  readonly reel: Signal<ReelView | null> = signal(null);
  readonly problem: Signal<ServiceProblem | null> = signal(null);
  /** Length of the print whose chance of a jam is asked for, m; null = as the service takes it. */
  printMetres: number | null = null;
  #asked = new AbortController();

  constructor(spoolId: number) {
    this.spoolId = spoolId;
  }

  stop(): void {
    this.#asked.abort();
  }

  /** Asks anew; an answer that is still on its way is dropped. What is shown stays until the new answer is there. */
  async load(): Promise<void> {
    this.#asked.abort();
    this.#asked = new AbortController();
    const { signal } = this.#asked;
    const params = { id: this.spoolId };
    const query = this.printMetres === null ? {} : { printMetres: this.printMetres };
    try {
      const [judgement, reel] = await Promise.all([
        call('GET /api/spools/:id/judgement', { params, query, signal }),
        call('GET /api/spools/:id/reel', { params, signal }).catch((thrown) => {
          // Without a spool's dimensions everything else can still be said.
          if (isAbort(thrown)) throw thrown;
          return null;
        }),
      ]);
      this.judgement.value = judgement;
      this.reel.value = reel;
      this.problem.value = null;
    } catch (thrown) {
      if (!isAbort(thrown)) this.problem.value = asProblem(thrown);
    }
  }

  /** A tape measurement, or null to take it back. @throws ServiceProblem */
  async correctLength(measured: LengthCorrectionInput | null): Promise<void> {
    const params = { id: this.spoolId };
    if (measured === null) await call('DELETE /api/spools/:id/length-correction', { params });
    else await call('PUT /api/spools/:id/length-correction', { params, body: measured });
  }
}
