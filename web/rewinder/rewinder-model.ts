import { type Signal, signal } from '@preact/signals';
import type {
  CoilView,
  CutInput,
  CutPiecesInput,
  CutPlanView,
  CutStepView,
} from '../../server/api/contract/cut-plan.ts';
import type { SpoolChoicesView } from '../../server/api/contract/runs-and-spools.ts';
import { chooseForSpool } from '../printers/spool-choices.ts';
import { call } from '../service/call.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { showNotice } from '../shell/notice.tsx';

/** One spool at the rewinder: its cut list and the cuts made. */
export class RewinderModel {
  readonly id: number;
  readonly plan: Signal<CutPlanView | null> = signal(null);
  readonly problem: Signal<ServiceProblem | null> = signal(null);
  readonly busy: Signal<boolean> = signal(false);
  /** Whether cutting has started; automatically true once a cut was made. */
  readonly started: Signal<boolean> = signal(false);
  /** The counter at the landmark of the current step. */
  readonly seenAtMm: Signal<number | null> = signal(null);
  #requests = 0;

  constructor(id: number) {
    this.id = id;
  }

  async load(): Promise<void> {
    this.#requests += 1;
    const request = this.#requests;
    try {
      const plan = await call('GET /api/spools/:id/cut-plan', { params: { id: this.id } });
      if (request !== this.#requests) return;
      this.plan.value = plan;
      this.problem.value = null;
      if (plan.done.length > 0) this.started.value = true;
    } catch (thrown) {
      if (request === this.#requests) this.problem.value = asProblem(thrown);
    }
  }

  async choose(change: Partial<SpoolChoicesView>): Promise<void> {
    await this.#act(() => chooseForSpool(this.id, change));
  }

  /** Records the current step as done. @param bare the core was reached */
  async done(step: CutStepView, countedMm: number, bare = !step.cutAfter): Promise<boolean> {
    const seen = this.seenAtMm.peek();
    const body: CutInput = {
      action: step.action === 'discard' ? 'discard' : 'keep',
      countedMm,
      ...(seen === null ? {} : { landmarkCountedMm: Math.min(seen, countedMm) }),
      ...(bare ? { reachedEnd: true } : {}),
      cutsBefore: this.#cutsBefore(),
    };
    return this.#act(() => call('POST /api/spools/:id/cuts', { params: { id: this.id }, body }));
  }

  async undo(): Promise<void> {
    const request = { params: { id: this.id }, query: { cutsBefore: this.#cutsBefore() } };
    if (await this.#act(() => call('DELETE /api/spools/:id/cuts/last', request)))
      showNotice({ text: 'Undid the last step.' });
  }

  /** Records that the coil just cut was cut back: shorter, with what was cut off it discarded. */
  async cutBack({ leftMm, outerMm, innerMm }: NonNullable<CoilView['repair']>): Promise<boolean> {
    const last = this.plan.peek()?.done.at(-1);
    if (last === undefined) return false;
    const { countedMm } = last;
    const pieces: CutPiecesInput['pieces'] =
      leftMm > 0
        ? [
            { action: 'discard', countedMm: outerMm },
            { action: 'keep', countedMm: Math.max(0, countedMm - outerMm - innerMm) },
            { action: 'discard', countedMm: innerMm },
          ]
        : [{ action: 'discard', countedMm }];
    const cut = pieces.filter((piece) => piece.countedMm > 0);
    const body = {
      pieces: cut.map((piece, i) => (last.reachedEnd && i === cut.length - 1 ? { ...piece, reachedEnd: true } : piece)),
      cutsBefore: this.#cutsBefore(),
    };
    const done = await this.#act(() => call('PUT /api/spools/:id/cuts/last', { params: { id: this.id }, body }));
    if (done) showNotice({ text: 'The coil is recorded as cut back.' });
    return done;
  }

  async rename(coil: CoilView, name: string): Promise<void> {
    await this.#act(() =>
      call('PUT /api/spools/:id/coils/:ordinal', { params: { id: this.id, ordinal: coil.ordinal }, body: { name } }),
    );
  }

  /** Two phones, or a double press, must not complete or undo a step twice. */
  #cutsBefore(): number {
    return this.plan.peek()?.done.length ?? 0;
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
