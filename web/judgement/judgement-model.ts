import { type Signal, signal } from '@preact/signals';
import type { LengthCorrectionInput, ReelView, SpoolJudgement } from '../../server/api/spool-contract.ts';
import { asProblem, isAbort, request, type ServiceProblem } from '../service/request.ts';

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
    const base = `/api/spools/${this.spoolId}`;
    try {
      const [judgement, reel] = await Promise.all([
        request<SpoolJudgement>(
          'GET',
          `${base}/judgement${this.printMetres === null ? '' : `?printMetres=${this.printMetres}`}`,
          undefined,
          signal,
        ),
        request<ReelView>('GET', `${base}/reel`, undefined, signal).catch((thrown) => {
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
    const path = `/api/spools/${this.spoolId}/length-correction`;
    if (measured === null) await request('DELETE', path);
    else await request('PUT', path, measured);
  }
}
