import type { CutPlan } from '../../strand/plan/cut-plan.ts';
import { doubtfulName } from '../../strand/section-names.ts';
import { csvText } from './text-encoders.ts';

const TITLES = [
  'step',
  'action',
  'unwind (m)',
  'possible error (m)',
  'then',
  'coil',
  'from outer end (m)',
  'to outer end (m)',
  'look for',
  'in doubt',
];

/** The steps still to do as comma-separated values according to RFC 4180. */
export function cutListCsv({ steps, donePieces }: Pick<CutPlan, 'steps' | 'donePieces'>): string {
  const rows = steps.map((step) => [
    String(donePieces.length + step.ordinal),
    step.action === 'discard' ? 'discard' : 'keep',
    metres(step.countedMm),
    metres(step.countErrorMm),
    step.cutAfter ? 'cut' : 'core',
    csvText(step.coil ?? ''),
    metres(step.fromOuterMm),
    metres(step.toOuterMm),
    csvText(step.landmarks.map(({ sentence }) => sentence).join(' ')),
    csvText([...new Set(step.doubts.map(doubtfulName))].join('; ')),
  ]);
  return [TITLES, ...rows].map((row) => `${row.join(',')}\r\n`).join('');
}

const metres = (mm: number) => (mm / 1000).toFixed(3);
