import { type Signal, signal } from '@preact/signals';
import type { SpoolChoicesView } from '../../server/api/contract.ts';
import type { CoilView, CutInput, CutPlanView, CutStepView } from '../../server/api/spool-contract.ts';
import { chooseForSpool } from '../printers/spool-choices.ts';
import { asProblem, request, type ServiceProblem } from '../service/request.ts';
import { say } from '../shell/notice.tsx';

/** One spool at the rewinder: its plan, and what was cut. */
export class RewinderModel {
  readonly id: number;
  readonly plan: Signal<CutPlanView | null> = signal(null);
  readonly problem: Signal<ServiceProblem | null> = signal(null);
  readonly busy: Signal<boolean> = signal(false);
  /** A person began to cut; true by itself once something was cut. */
  readonly begun: Signal<boolean> = signal(false);
  /** What the counter showed at the landmark of the present step. */
  readonly seenAtMm: Signal<number | null> = signal(null);
  #asked = 0;

  constructor(id: number) {
    this.id = id;
  }

  async load(): Promise<void> {
    this.#asked += 1;
    const mine = this.#asked;
    try {
      const plan = await request<CutPlanView>('GET', `/api/spools/${this.id}/cut-plan`);
      if (mine !== this.#asked) return;
      this.plan.value = plan;
      this.problem.value = null;
      if (plan.done.length > 0) this.begun.value = true;
    } catch (thrown) {
      if (mine === this.#asked) this.problem.value = asProblem(thrown);
    }
  }

  async choose(change: Partial<SpoolChoicesView>): Promise<void> {
    await this.#act(() => chooseForSpool(this.id, change));
  }

  /** The present step was done: so much was counted. `bare` = the core was reached. */
  async done(step: CutStepView, countedMm: number, bare = !step.cutAfter): Promise<boolean> {
    const seen = this.seenAtMm.peek();
    const body: CutInput = {
      action: step.action === 'discard' ? 'discard' : 'keep',
      countedMm,
      ...(seen === null ? {} : { landmarkCountedMm: Math.min(seen, countedMm) }),
      ...(bare ? { reachedEnd: true } : {}),
      // Two phones, or a thumb that bounces, must not tick off one step twice.
      cutsBefore: this.plan.peek()?.done.length ?? 0,
    };
    return this.#act(() => request('POST', `/api/spools/${this.id}/cuts`, body));
  }

  async undo(): Promise<void> {
    if (await this.#act(() => request('DELETE', `/api/spools/${this.id}/cuts/last`)))
      say({ text: 'The last step is taken back.' });
  }

  async rename(coil: CoilView, name: string): Promise<void> {
    await this.#act(() => request('PUT', `/api/spools/${this.id}/coils/${coil.ordinal}`, { name }));
  }

  async #act(what: () => Promise<unknown>): Promise<boolean> {
    if (this.busy.peek()) return false;
    this.busy.value = true;
    try {
      await what();
      this.seenAtMm.value = null;
      await this.load();
      return true;
    } catch (thrown) {
      this.problem.value = asProblem(thrown);
      return false;
    } finally {
      this.busy.value = false;
    }
  }
}
