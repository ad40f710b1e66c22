import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Layout, Reading } from '../../server/reading/reading.ts';
import { openStore, type Store, type StoreOptions } from '../../server/store/index.ts';
import { newRecord } from './new-record.ts';

/** An empty data folder, removed after `use`, whatever happens. */
export const inFolder = (use: InFolder) => removedAfter(mkdtempSync(join(tmpdir(), 'strandward-store-')), use);

/** A data folder with an empty record, removed after `use`, whatever happens. */
export const inNewRecord = (use: InFolder) => removedAfter(newRecord('strandward-store-'), use);

type InFolder = (folder: string) => Promise<void> | void;

async function removedAfter(folder: string, use: InFolder): Promise<void> {
  try {
    await use(folder);
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

/** A store of a new record, closed and removed after `use`. */
export function withStore(use: (store: Store, folder: string) => Promise<void>, options: Partial<StoreOptions> = {}) {
  return inNewRecord(async (folder) => {
    const store = openStore({ folder, ...options });
    try {
      await use(store, folder);
    } finally {
      await store.close();
    }
  });
}

/** A layout of signals by name, without roles. */
export function layoutOf(names: readonly string[]): Layout {
  return {
    signals: names.map((name) => ({ name, role: null, unit: name === 'd' ? 'mm' : '' })),
    diameter: names.indexOf('d'),
    diameterX: -1,
    diameterY: -1,
    speed: -1,
    lengthCounter: -1,
    screwSpeed: -1,
    turns: -1,
    zones: [],
  };
}

export function readingOf(layout: Layout, timeMs: number, values: readonly number[]): Reading {
  return { timeMs, layout, values, lostBefore: 0, restarted: false };
}

export function beginRun(store: Store): number {
  return store.writer.beginRun({ startedMs: 1_750_000_000_000, timeZone: 'Europe/Vienna', sourceTitle: 'test line' })
    .id;
}

/** Repeatable numbers in [0, 1): the linear congruential generator of Numerical Recipes. */
export function randomOf(start: number): () => number {
  let seed = start >>> 0;
  return () => {
    seed = (Math.imul(seed, 1664525) + 1013904223) >>> 0;
    return (seed + 0.5) / 2 ** 32;
  };
}
