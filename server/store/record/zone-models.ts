import type { Database } from 'better-sqlite3';
import { isThermalModel, type ThermalModel } from '../../heat/thermal-model.ts';
import type { UnreadableRows } from './unreadable-rows.ts';

/** The learnt model of each zone. A line is identified by the title of its source. */
export function zoneModelTable(db: Database, unreadable: UnreadableRows) {
  const all = db.prepare<[string], { zone: number; payload: string }>(
    'SELECT zone, payload FROM zone_model WHERE source = ?',
  );
  const save = db.prepare('INSERT OR REPLACE INTO zone_model (source, zone, saved_ms, payload) VALUES (?, ?, ?, ?)');
  const deleteAll = db.prepare('DELETE FROM zone_model WHERE source = ?');
  return {
    load(source: string): ReadonlyMap<number, ThermalModel> {
      const models = new Map<number, ThermalModel>();
      for (const { zone, payload } of all.all(source)) {
        const place = { table: 'zone_model', row: `${source}/${zone}`, runId: null };
        const model: unknown = unreadable.read(place, () => JSON.parse(payload));
        // A model in the format of another version is left out, and learnt again.
        if (isThermalModel(model)) models.set(zone, model);
      }
      return models;
    },
    save: db.transaction((source: string, models: ReadonlyMap<number, ThermalModel>, atMs: number): void => {
      deleteAll.run(source);
      for (const [zone, model] of models) save.run(source, zone, atMs, JSON.stringify(model));
    }),
  };
}
