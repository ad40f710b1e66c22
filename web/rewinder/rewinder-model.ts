import { type Signal, signal } from '@preact/signals';
import type { CoilView, CutInput, CutPlanView, CutStepView } from '../../server/api/contract/cut-plan.ts';
import type { SpoolChoicesView } from '../../server/api/contract/runs-and-spools.ts';
import { chooseForSpool } from '../printers/spool-choices.ts';
import { call } from '../service/call.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
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
      const plan = await call('GET /api/spools/:id/cut-plan', { params: { id: this.id } });
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
    return this.#act(() => call('POST /api/spools/:id/cuts', { params: { id: this.id }, body }));
  }

  async undo(): Promise<void> {
    if (await this.#act(() => call('DELETE /api/spools/:id/cuts/last', { params: { id: this.id } })))
      say({ text: 'The last step is taken back.' });
  }

  async rename(coil: CoilView, name: string): Promise<void> {
    await this.#act(() =>
      call('PUT /api/spools/:id/coils/:ordinal', { params: { id: this.id, ordinal: coil.ordinal }, body: { name } }),
    );
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
