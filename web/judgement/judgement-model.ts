import { type Signal, signal } from '@preact/signals';
import type { LengthCorrectionInput, SpoolJudgement, WeighingInput } from '../../server/api/contract/judgement.ts';
import type { ReelView } from '../../server/api/contract/spool-analysis.ts';
import { call } from '../service/call.ts';
import { asProblem, isAbort, type ServiceProblem } from '../service/request.ts';

/** The judgement of one spool for the printer that is chosen for it. */
export class JudgementModel {
  readonly spoolId: number;
  readonly judgement: Signal<SpoolJudgement | null> = signal(null);
  readonly reel: Signal<ReelView | null> = signal(null);
  readonly problem: Signal<ServiceProblem | null> = signal(null);
  /** Length of the print whose chance of a jam is requested, m; null = the service's default. */
  printMetres: number | null = null;
  #controller = new AbortController();

  constructor(spoolId: number) {
    this.spoolId = spoolId;
  }

  stop(): void {
    this.#controller.abort();
  }

  /** Requests the judgement again and drops a pending answer. The old one is shown until the new one arrives. */
  async load(): Promise<void> {
    this.#controller.abort();
    this.#controller = new AbortController();
    const { signal } = this.#controller;
    const params = { id: this.spoolId };
    const query = this.printMetres === null ? {} : { printMetres: this.printMetres };
    try {
      const [judgement, reel] = await Promise.all([
        call('GET /api/spools/:id/judgement', { params, query, signal }),
        call('GET /api/spools/:id/reel', { params, signal }).catch((thrown) => {
          // Without the dimensions of the spool only this part is missing.
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

  /** Saves a tape measurement; null removes it. @throws ServiceProblem */
  async correctLength(measured: LengthCorrectionInput | null): Promise<void> {
    const params = { id: this.spoolId };
    if (measured === null) await call('DELETE /api/spools/:id/length-correction', { params });
    else await call('PUT /api/spools/:id/length-correction', { params, body: measured });
  }

  /** Saves what a scale shows; null removes it. @throws ServiceProblem */
  async weigh(weighed: WeighingInput | null): Promise<void> {
    const params = { id: this.spoolId };
    if (weighed === null) await call('DELETE /api/spools/:id/weighing', { params });
    else await call('PUT /api/spools/:id/weighing', { params, body: weighed });
  }
}
