import { batch, type Signal, signal } from '@preact/signals';
import type { SectionInput, SectionView, SpoolDetail, SpoolView } from '../../server/api/contract/runs-and-spools.ts';
import { gaugeLengthMm } from '../../server/strand/position.ts';
import { sectionName } from '../format/names.ts';
import { metres } from '../format/numbers.ts';
import { chooseForSpool } from '../printers/spool-choices.ts';
import { call } from '../service/call.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { showNotice } from '../shell/notice.tsx';

/** A stretch being marked or adjusted. `id` = the section it changes; null = a new one. */
export interface Draft {
  readonly id: string | null;
  readonly fromMm: number;
  readonly toMm: number;
  readonly verdict: SectionView['verdict'];
  readonly note: string;
}

/** The state of a spool page: the spool, the cursor, and the stretch being marked. */
export class SpoolModel {
  readonly id: number;
  readonly detail: Signal<SpoolDetail | null> = signal(null);
  readonly problem: Signal<ServiceProblem | null> = signal(null);
  readonly saveProblem: Signal<ServiceProblem | null> = signal(null);
  readonly cursorMm: Signal<number> = signal(0);
  readonly draft: Signal<Draft | null> = signal(null);
  /** The place where the spool is to start or be split, mm from its inner end; null = that form is closed. */
  readonly bounds: Signal<number | null> = signal(null);
  /** Numbers the editors that were opened, to tell an edited draft from the draft of another stretch. */
  #editor = 0;
  #requests = 0;

  constructor(id: number) {
    this.id = id;
  }

  async load(): Promise<void> {
    this.#requests += 1;
    const request = this.#requests;
    try {
      const detail = await call('GET /api/spools/:id', { params: { id: this.id } });
      // An answer that was overtaken by a newer one would show the past.
      if (request !== this.#requests) return;
      this.detail.value = detail;
      this.problem.value = null;
    } catch (thrown) {
      if (request === this.#requests) this.problem.value = asProblem(thrown);
    }
  }

  /** Another number for each editor that was opened. */
  get editor(): number {
    return this.#editor;
  }

  openBounds(atMm: number): void {
    this.saveProblem.value = null;
    this.bounds.value = atMm;
  }

  select(fromMm: number, toMm: number): void {
    const old = this.draft.peek();
    const [from, to] = fromMm <= toMm ? [fromMm, toMm] : [toMm, fromMm];
    if (!old) this.#editor += 1;
    this.bounds.value = null;
    this.draft.value = old
      ? { ...old, fromMm: from, toMm: to }
      : { id: null, fromMm: from, toMm: to, verdict: 'discard', note: '' };
  }

  mark(fromMm: number, toMm: number): void {
    this.draft.value = null;
    this.select(fromMm, toMm);
  }

  adjust(section: SectionView): void {
    if (section.fromSpoolMm === null || section.toSpoolMm === null) return;
    const { id, fromSpoolMm, toSpoolMm, verdict, note } = section;
    this.#editor += 1;
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

  /** Moves the start of the spool. @param spool as the user saw it @param atMm from its start; below 0 = earlier */
  async moveStart(spool: SpoolView, atMm: number): Promise<void> {
    const begins = (startGaugeMm: number) =>
      call('POST /api/spools/:id/start', { params: { id: this.id }, body: { startGaugeMm } });
    await this.#act(async () => {
      await begins(gaugeLengthMm(atMm, spool));
      const text = `${metres(Math.abs(atMm), 3)} m ${atMm < 0 ? 'earlier' : 'later'}`;
      showNotice({ text: `The spool starts ${text}.`, undo: () => this.#act(() => begins(spool.startGaugeMm)) });
      this.#showFromStart();
    });
  }

  /** Splits the spool. @param spool as the user saw it @param atMm from its inner end */
  async splitAt(spool: SpoolView, atMm: number): Promise<void> {
    await this.#act(async () => {
      const atGaugeMm = gaugeLengthMm(atMm, spool);
      const next = await call('POST /api/spools/:id/split', { params: { id: this.id }, body: { atGaugeMm } });
      showNotice({ text: `The strand after ${metres(atMm, 3)} m is now spool ${next.ordinal}.` });
      this.#showFromStart();
    });
  }

  #showFromStart(): void {
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
    const editor = this.#editor;
    await this.#act(async () => {
      let { id } = draft;
      if (id === null) {
        const made = await call('POST /api/spools/:id/sections', { params: { id: this.id }, body });
        id = made.id;
        showNotice({ text: 'Stretch marked.', undo: () => this.#act(() => this.#dismiss(made.id)) });
      } else {
        await this.#adjust(id, body);
        showNotice({ text: 'Stretch adjusted.', undo: before && (() => this.#takeBack(before)) });
      }
      // Until the answer came, the user may have opened another section, or typed on in this one.
      const now = this.draft.peek();
      if (now === draft) this.cancel();
      else if (now && this.#editor === editor) this.draft.value = { ...now, id };
    });
  }

  async remove(section: SectionView): Promise<void> {
    await this.#act(async () => {
      await this.#dismiss(section.id);
      showNotice({
        text: `${sectionName(section)} ${section.origin === 'user' ? 'removed' : 'dismissed'}.`,
        undo: () => this.#act(() => this.#restore(section.id)),
      });
      this.#close(section);
    });
  }

  /** Closes the editor of this section; that of another one stays open. */
  #close(section: SectionView): void {
    if (this.draft.peek()?.id === section.id) this.cancel();
  }

  /** Undoes that a section was cut out before the winder, or left on the spool. */
  async undoDecision(section: SectionView): Promise<void> {
    const params = { id: this.id, section: section.id };
    await this.#act(() => call('DELETE /api/spools/:id/sections/:section/decision', { params }));
    this.#close(section);
  }

  async choosePrinter(printerId: number): Promise<void> {
    await this.#act(() => chooseForSpool(this.id, { printerId }));
  }

  /** Returns an adjusted section to what was measured. */
  async restore(section: SectionView): Promise<void> {
    await this.#act(async () => {
      await this.#restore(section.id);
      showNotice({ text: 'Back to what was measured.' });
      this.#close(section);
    });
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
