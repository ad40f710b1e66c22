import { expect, it } from 'vitest';
import { sectionsOn } from '../../server/api/views.ts';
import type { Section } from '../../server/strand/section.ts';

const section = (id: string, origin: Section['origin'], fromMm: number, toMm: number): Section => ({
  id,
  origin,
  fromMm,
  toMm,
  kind: 'marked',
  fromTimeMs: 0,
  toTimeMs: 0,
  peakMm: null,
  peakAtMm: null,
  volumeBeyondMm3: null,
  certainty: 'sure',
  verdict: 'discard',
  note: '',
  open: false,
});
const spool = {
  id: 1,
  runId: 1,
  ordinal: 1,
  startedMs: 0,
  endedMs: null,
  startGaugeMm: 1000,
  endGaugeMm: null,
  note: '',
};

it('shows what a person said of strand whose readings a crash took, but not what belongs to the next spool', () => {
  const on = { spool, endGaugeMm: 5000, reachGaugeMm: 6000, lengthFactor: 1 };
  const all = [
    section('before the spool', 'person', 0, 900),
    section('on it', 'measured', 1500, 1600),
    section('across its end', 'measured', 4900, 5100),
    section('measured behind it', 'measured', 5050, 5100),
    section('said of the lost second', 'person', 5050, 5100),
    section('edges set in the lost second', 'adjusted', 5050, 5100),
    section('said of the next spool', 'person', 6000, 6100),
  ];
  expect(sectionsOn(all, on).map(({ id }) => id)).toEqual([
    'on it',
    'across its end',
    'said of the lost second',
    'edges set in the lost second',
  ]);
});
