/** Typical defects of the strand. Common practice, no source: blobs are 2–30 mm long, often followed by a neck. */

import type { DefectPlan } from '../model/defects.ts';

/** A blob well above a hotend limit of 1.90 mm. */
export const BLOB: DefectPlan = {
  kind: 'blob',
  shape: 'soft',
  excessMm: [0.22, 0.5],
  lengthMm: [5, 28],
  neck: { share: 0.7, shortfallMm: [0.05, 0.16], lengthMm: [6, 20] },
  note: 'a lump of half-molten regrind',
};

/** A short stretch too thin for a drive gear to grip. */
export const NECK: DefectPlan = {
  kind: 'neck',
  shape: 'soft',
  excessMm: [-0.32, -0.2],
  lengthMm: [8, 30],
  note: 'the feed ran short for a moment',
};

export const THICK_STRETCH: DefectPlan = {
  kind: 'off-tolerance',
  shape: 'stretch',
  excessMm: [0.07, 0.1],
  lengthMm: [500, 900],
  note: 'coarser regrind for a while',
};

export const THIN_STRETCH: DefectPlan = {
  kind: 'thin-stretch',
  shape: 'stretch',
  excessMm: [-0.24, -0.18],
  lengthMm: [300, 700],
  note: 'the hopper was nearly empty for a while',
};

export const CONTAMINANT: DefectPlan = {
  kind: 'contaminant',
  shape: 'hard',
  excessMm: [0.35, 0.7],
  lengthMm: [3, 9],
  note: 'a grain that does not melt at this temperature',
};
