import { expect, test } from 'vitest';
import { headline } from '../../server/alarm/headline.ts';
import { type Unwatched, unwatched } from '../../server/alarm/unwatched.ts';
import { LayoutBuilder } from '../../server/reading/layout-builder.ts';
import type { MeasuredRole } from '../../server/reading/names.ts';
import { recognisedSignals } from '../../server/reading/reading.ts';
import { STAGES } from '../../server/stage/stage.ts';
import { WELL } from './well-line.ts';

/**
 * What each rule cannot work without, from what it compares: each entry lists alternatives. Written down here again on
 * purpose, apart from the code under test.
 */
const NEEDED: Readonly<Record<string, readonly (readonly string[])[]>> = {
  'blob, thin spot': [['d'], ['dx', 'dy']],
  'out of tolerance, where on the spool': [['v'], ['len'], ['set speed']],
  'out of round': [['dx', 'dy']],
  'any heat': [['t1'], ['t2']],
  'sensor of zone 1': [['t1']],
  'sensor of zone 2': [['t2']],
  'set-point of zone 1 kept': [['s1']],
  'set-point of zone 2 kept': [['s2']],
  'heater of zone 1': [['p1']],
  'heater of zone 2': [['p2']],
  'screw turns cold': [['rpm']],
};
/** Sent together or not at all; zone 2 has all its signals on their own, so that each can be missing alone. */
const SENT_TOGETHER = [['d'], ['dx', 'dy'], ['t1'], ['s1'], ['p1'], ['t2'], ['s2'], ['p2'], ['v'], ['len'], ['rpm']];

function combinations(): Set<string>[] {
  return Array.from({ length: 2 ** (SENT_TOGETHER.length + 1) }, (_, bits) => {
    const sent = SENT_TOGETHER.filter((_, i) => bits & (1 << i)).flat();
    return new Set(bits & (1 << SENT_TOGETHER.length) ? [...sent, 'set speed'] : sent);
  });
}

function unwatchedWith(has: ReadonlySet<string>): Unwatched {
  const roles = [...has].filter((role) => role !== 'set speed') as MeasuredRole[];
  const builder = new LayoutBuilder([]);
  builder.bind(roles);
  return unwatched({
    understood: recognisedSignals(builder.layout),
    impossibleMm: null,
    nominalMm: 1.75,
    impossibleMmPerS: null,
    noDiameterForS: 0,
    lengthContradicts: false,
    setSpeedMmPerS: has.has('set speed') ? 30 : 0,
    zoneNames: ['Feed', 'Die'],
  });
}

test('no sentence says “all well” while any signal that a rule needs is missing', () => {
  const wrong: string[] = [];
  let saidWell = 0;
  for (const has of combinations()) {
    // A zone of which nothing comes does not exist.
    const exists = (zone: string) => ['t', 's', 'p'].some((letter) => has.has(`${letter}${zone}`));
    const lacking = Object.entries(NEEDED)
      .filter(([rule]) => !/zone/.test(rule) || exists(rule.includes('zone 1') ? '1' : '2'))
      .filter(([, alternatives]) => !alternatives.some((roles) => roles.every((role) => has.has(role))))
      .map(([rule]) => rule);
    const state = { ...WELL, unwatched: unwatchedWith(has) };
    for (const stage of STAGES) {
      const { sentence, severity } = headline({ ...state, stage });
      if (/all well/.test(sentence)) saidWell++;
      if (lacking.length > 0 && /all well/.test(sentence)) wrong.push(`${[...has].join(' ')}: ${sentence}`);
      // Only what a minor rule needs may be missing from a calm line.
      const serious = lacking.filter((rule) => rule !== 'out of round' && rule !== 'screw turns cold');
      if (serious.length > 0 && severity === 'calm') wrong.push(`calm without ${serious}: ${sentence}`);
    }
  }
  expect(wrong.slice(0, 5)).toEqual([]);
  expect(saidWell).toBeGreaterThan(0);
});
