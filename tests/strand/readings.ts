import type { Layout, Reading } from '../../server/reading/reading.ts';

export const LAYOUT: Layout = {
  signals: [
    { name: 'd', role: 'd', unit: 'mm' },
    { name: 'v', role: 'v', unit: 'mm/s' },
    { name: 'len', role: 'len', unit: 'mm' },
  ],
  diameter: 0,
  diameterX: -1,
  diameterY: -1,
  speed: 1,
  lengthCounter: 2,
  screwSpeed: -1,
  turns: -1,
  zones: [],
};

/** A reading with a diameter, and a speed and length counter where they are given. */
export function reading(
  timeMs: number,
  fields: { v?: number; len?: number; lost?: number; restarted?: boolean } = {},
): Reading {
  return {
    timeMs,
    layout: LAYOUT,
    values: [1.75, fields.v ?? Number.NaN, fields.len ?? Number.NaN],
    lostBefore: fields.lost ?? 0,
    restarted: fields.restarted ?? false,
  };
}
