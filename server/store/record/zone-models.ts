import type { Database } from 'better-sqlite3';
import { isThermalModel, type ThermalModel } from '../../heat/thermal-model.ts';

/** What was learnt of each zone of a line; a line is told by the title of its source. */
export function zoneModelTable(db: Database) {
  const all = db.prepare<[string], { zone: number; payload: string }>(
    'SELECT zone, payload FROM zone_model WHERE source = ?',
  );
  const put = db.prepare('INSERT OR REPLACE INTO zone_model (source, zone, saved_ms, payload) VALUES (?, ?, ?, ?)');
  const forget = db.prepare('DELETE FROM zone_model WHERE source = ?');
  return {
    load(source: string): ReadonlyMap<number, ThermalModel> {
      const models = new Map<number, ThermalModel>();
      for (const { zone, payload } of all.all(source)) {
        const model: unknown = JSON.parse(payload);
        // One of another make of the program is learnt anew.
        if (isThermalModel(model)) models.set(zone, model);
      }
      return models;
    },
    save: db.transaction((source: string, models: ReadonlyMap<number, ThermalModel>, atMs: number): void => {
      forget.run(source);
      for (const [zone, model] of models) put.run(source, zone, atMs, JSON.stringify(model));
    }),
  };
}
