import { batch, type Signal, signal } from '@preact/signals';
import type { SectionInput, SectionView, SpoolDetail, SpoolView } from '../../server/api/contract/runs-and-spools.ts';
import { KIND_TEXT } from '../format/names.ts';
import { metres } from '../format/numbers.ts';
import { chooseForSpool } from '../printers/spool-choices.ts';
import { call } from '../service/call.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { say } from '../shell/notice.tsx';

/** A stretch being marked or adjusted. `id` = the section it changes; null = a new one. */
export interface Draft {
  readonly id: string | null;
  readonly fromMm: number;
  readonly toMm: number;
  readonly verdict: SectionView['verdict'];
  readonly note: string;
}

/** One open spool page: what the service says of the spool, where the cursor is, what is being marked. */
export class SpoolModel {
  readonly id: number;
  readonly detail: Signal<SpoolDetail | null> = signal(null);
  readonly problem: Signal<ServiceProblem | null> = signal(null);
  readonly saveProblem: Signal<ServiceProblem | null> = signal(null);
  readonly cursorMm: Signal<number> = signal(0);
  readonly draft: Signal<Draft | null> = signal(null);
  /** Where the spool may begin, or may have been changed, mm from its inner end; null = nobody asks. */
  readonly bounds: Signal<number | null> = signal(null);

  constructor(id: number) {
    this.id = id;
  }

  async load(): Promise<void> {
    try {
      this.detail.value = await call('GET /api/spools/:id', { params: { id: this.id } });
      this.problem.value = null;
    } catch (thrown) {
      this.problem.value = asProblem(thrown);
    }
  }

  askBounds(atMm: number): void {
    this.saveProblem.value = null;
    this.bounds.value = atMm;
  }

  select(fromMm: number, toMm: number): void {
    const old = this.draft.peek();
    const [from, to] = fromMm <= toMm ? [fromMm, toMm] : [toMm, fromMm];
    this.bounds.value = null;
    this.draft.value = old
      ? { ...old, fromMm: from, toMm: to }
      : { id: null, fromMm: from, toMm: to, verdict: 'discard', note: '' };
  }

  begin(fromMm: number, toMm: number): void {
    this.draft.value = null;
    this.select(fromMm, toMm);
  }

  adjust(section: SectionView): void {
    if (section.fromSpoolMm === null || section.toSpoolMm === null) return;
    const { id, fromSpoolMm, toSpoolMm, verdict, note } = section;
    batch(() => {
      this.saveProblem.value = null;
      this.bounds.value = null;
      this.draft.value = { id, fromMm: Math.max(0, fromSpoolMm), toMm: toSpoolMm, verdict, note };
      this.cursorMm.value = Math.max(0, fromSpoolMm);
    });
  }

  cancel(): void {
    this.draft.value = null;
    this.bounds.value = null;
    this.saveProblem.value = null;
  }

  /** @param spool as the person saw it @param atMm from where it begins there; below 0 = earlier */
  async beginsAt(spool: SpoolView, atMm: number): Promise<void> {
    const begins = (startGaugeMm: number) =>
      call('POST /api/spools/:id/start', { params: { id: this.id }, body: { startGaugeMm } });
    await this.#act(async () => {
      await begins(spool.startGaugeMm + atMm / spool.lengthFactor);
      const text = `${metres(Math.abs(atMm), 3)} m ${atMm < 0 ? 'earlier' : 'later'}`;
      say({ text: `The spool begins ${text}.`, undo: () => this.#act(() => begins(spool.startGaugeMm)) });
      this.#begunAnew();
    });
  }

  /** @param spool as the person saw it @param atMm from its inner end */
  async wasChangedAt(spool: SpoolView, atMm: number): Promise<void> {
    await this.#act(async () => {
      const atGaugeMm = spool.startGaugeMm + atMm / spool.lengthFactor;
      const begun = await call('POST /api/spools/:id/split', { params: { id: this.id }, body: { atGaugeMm } });
      say({ text: `What was wound behind ${metres(atMm, 3)} m is spool ${begun.ordinal} now.` });
      this.#begunAnew();
    });
  }

  #begunAnew(): void {
    this.cancel();
    this.cursorMm.value = 0;
  }

  async save(): Promise<void> {
    const draft = this.draft.peek();
    if (!draft) return;
    const body: SectionInput = {
      fromSpoolMm: draft.fromMm,
      toSpoolMm: draft.toMm,
      verdict: draft.verdict,
      note: draft.note,
    };
    const before = this.detail.peek()?.sections.find((one) => one.id === draft.id);
    await this.#act(async () => {
      if (draft.id === null) {
        const made = await call('POST /api/spools/:id/sections', { params: { id: this.id }, body });
        say({ text: 'Section added.', undo: () => this.#act(() => this.#dismiss(made.id)) });
      } else {
        await this.#adjust(draft.id, body);
        say({ text: 'Section adjusted.', undo: before && (() => this.#takeBack(before)) });
      }
      this.cancel();
    });
  }

  async remove(section: SectionView): Promise<void> {
    await this.#act(async () => {
      await this.#dismiss(section.id);
      say({
        text: `${KIND_TEXT[section.kind]} ${section.origin === 'user' ? 'removed' : 'dismissed'}.`,
        undo: () => this.#act(() => this.#restore(section.id)),
      });
      this.cancel();
    });
  }

  async choosePrinter(printerId: number): Promise<void> {
    await this.#act(() => chooseForSpool(this.id, { printerId }));
  }

  /** A measured section goes back to what was measured; one of a person, to what that person said before. */
  async restore(section: SectionView): Promise<void> {
    await this.#act(() => this.#restore(section.id));
    say({ text: 'Back to what was measured.' });
  }

  async #takeBack(before: SectionView): Promise<void> {
    if (before.origin === 'measured') await this.#act(() => this.#restore(before.id));
    else if (before.fromSpoolMm !== null && before.toSpoolMm !== null) {
      const { fromSpoolMm, toSpoolMm, verdict, note } = before;
      await this.#act(() => this.#adjust(before.id, { fromSpoolMm, toSpoolMm, verdict, note }));
    }
  }

  #dismiss(section: string) {
    return call('DELETE /api/spools/:id/sections/:section', { params: { id: this.id, section } });
  }

  #adjust(section: string, body: SectionInput) {
    return call('PUT /api/spools/:id/sections/:section', { params: { id: this.id, section }, body });
  }

  #restore(section: string) {
    return call('POST /api/spools/:id/sections/:section/restore', { params: { id: this.id, section } });
  }

  async #act(what: () => Promise<unknown>): Promise<void> {
    try {
      await what();
      this.saveProblem.value = null;
      await this.load();
    } catch (thrown) {
      this.saveProblem.value = asProblem(thrown);
    }
  }
}
