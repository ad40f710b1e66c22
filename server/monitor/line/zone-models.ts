import type { ThermalModel } from '../../heat/thermal-model.ts';
import type { RecordWriter } from '../ports/record.ts';
import type { RecordGuard } from '../record-guard.ts';

type Models = ReadonlyMap<number, ThermalModel>;

/** The thermal models learnt for the zones. They are stored by source, because another source has other heaters. */
export class ZoneModels {
  readonly #writer: RecordWriter;
  readonly #guard: RecordGuard;
  #models: Models = new Map();

  constructor(writer: RecordWriter, guard: RecordGuard) {
    this.#writer = writer;
    this.#guard = guard;
  }

  /** As last loaded or saved. */
  get models(): Models {
    return this.#models;
  }

  load(sourceTitle: string): void {
    this.#models = this.#writer.loadZoneModels(sourceTitle);
  }

  saveIfChanged(sourceTitle: string, models: Models, nowMs: number): void {
    if (![...models].some(([zone, model]) => this.#models.get(zone) !== model)) return;
    this.#models = models;
    this.#guard.write('zone models', () => this.#writer.saveZoneModels(sourceTitle, models, nowMs));
  }

  /** @throws RecordFailing; nothing is then forgotten */
  forget(sourceTitle: string, nowMs: number): void {
    this.#writer.saveZoneModels(sourceTitle, new Map(), nowMs);
    this.#models = new Map();
  }
}
