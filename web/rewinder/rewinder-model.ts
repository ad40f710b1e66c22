import { type Signal, signal } from '@preact/signals';
import type {
  CoilView,
  CutInput,
  CutPiecesInput,
  CutPlanView,
  CutStepView,
  DoneCutView,
} from '../../server/api/contract/cut-plan.ts';
import type { SpoolChoicesView } from '../../server/api/contract/runs-and-spools.ts';
import { chooseForSpool } from '../printers/spool-choices.ts';
import { call } from '../service/call.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { showNotice } from '../shell/notice.tsx';

/** What other devices did since this one last did something or showed their steps. */
export interface OthersSteps {
  readonly added: readonly DoneCutView[];
  /** Steps that were undone. */
  readonly undone: readonly DoneCutView[];
}

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
  /** Until it is confirmed, no step can be ticked off here: the thumb may already be on its way to the step before. */
  readonly others: Signal<OthersSteps | null> = signal(null);
  /** Cuts ticked off on other devices while this page was open. */
  readonly #byOthers = new Set<number>();
  #requests = 0;
  /** The record changed while this page was sending a step. */
  #isStale = false;

  constructor(id: number) {
    this.id = id;
  }

  async load(): Promise<void> {
    if (this.busy.peek()) {
      this.#isStale = true;
      return;
    }
    await this.#fetch();
  }

  /** @returns whether another device had changed the cuts */
  async #fetch(): Promise<boolean> {
    this.#requests += 1;
    const request = this.#requests;
    try {
      const plan = await call('GET /api/spools/:id/cut-plan', { params: { id: this.id } });
      if (request !== this.#requests) return false;
      return this.#take(plan, false);
    } catch (thrown) {
      if (request === this.#requests) this.problem.value = asProblem(thrown);
      return false;
    }
  }

  #take(plan: CutPlanView, isMine: boolean): boolean {
    const before = this.plan.peek();
    const added = before === null || isMine ? [] : missingIn(before.done, plan.done);
    const undone = before === null || isMine ? [] : missingIn(plan.done, before.done);
    const isChanged = added.length + undone.length > 0;
    if (isChanged) {
      for (const { id } of added) this.#byOthers.add(id);
      const earlier = this.others.peek();
      this.others.value = {
        added: [...(earlier?.added ?? []), ...added].filter(({ id }) => plan.done.some((cut) => cut.id === id)),
        undone,
      };
    } else if (isMine) this.others.value = null;
    if (isChanged || isMine) this.seenAtMm.value = null;
    this.plan.value = plan;
    this.problem.value = null;
    if (plan.done.length > 0) this.started.value = true;
    return isChanged;
  }

  /** The user has seen what others did. */
  goOn(): void {
    this.others.value = null;
  }

  /** The last cut, if it was ticked off on another device while this page was open. */
  lastByOthers(): DoneCutView | null {
    const last = this.plan.value?.done.at(-1);
    return last !== undefined && this.#byOthers.has(last.id) ? last : null;
  }

  async choose(change: Partial<SpoolChoicesView>): Promise<void> {
    await this.#act(() => chooseForSpool(this.id, change));
  }

  /** Records the current step as done. @param bare the core was reached */
  async done(step: CutStepView, countedMm: number, bare = !step.cutAfter): Promise<boolean> {
    const seen = this.seenAtMm.peek();
    const body: CutInput = {
      action: actionOf(step),
      countedMm,
      ...(seen === null ? {} : { landmarkCountedMm: Math.min(seen, countedMm) }),
      ...(bare ? { reachedEnd: true } : {}),
      cutsBefore: this.#cutsBefore(),
    };
    return this.#act(() => call('POST /api/spools/:id/cuts', { params: { id: this.id }, body }));
  }

  /** Records several steps that were cut as planned. */
  async doneAsPlanned(steps: readonly CutStepView[]): Promise<boolean> {
    const body = {
      pieces: steps.map((step) => ({
        action: actionOf(step),
        countedMm: step.countedMm,
        ...(step.cutAfter ? {} : { reachedEnd: true }),
      })),
      cutsBefore: this.#cutsBefore(),
    };
    return this.#act(() => call('POST /api/spools/:id/cuts/several', { params: { id: this.id }, body }));
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

  /** @param what may return the new cut list; otherwise it is fetched */
  async #act(what: () => Promise<unknown>): Promise<boolean> {
    if (this.busy.peek()) return false;
    this.busy.value = true;
    this.#isStale = false;
    // An answer that is on its way does not know of this step.
    this.#requests += 1;
    try {
      const answer = await what();
      if (isPlan(answer)) this.#take(answer, true);
      else await this.#fetch();
      return true;
    } catch (thrown) {
      const problem = asProblem(thrown);
      // Another device was faster: show its step instead of a fault.
      const wasFaster = problem.pointer === '/cutsBefore' && (await this.#fetch());
      if (!wasFaster) this.problem.value = problem;
      return false;
    } finally {
      this.busy.value = false;
      if (this.#isStale) void this.#fetch();
    }
  }
}

const actionOf = (step: CutStepView): CutInput['action'] => (step.action === 'discard' ? 'discard' : 'keep');

const isPlan = (answer: unknown): answer is CutPlanView =>
  typeof answer === 'object' && answer !== null && 'steps' in answer && 'done' in answer;

const missingIn = (some: readonly DoneCutView[], all: readonly DoneCutView[]) =>
  all.filter(({ id }) => !some.some((one) => one.id === id));
