import { describe, expect, it } from 'vitest';
import { ALARM_TYPES, type AlarmType, type Priority } from '../../server/alarm/alarm.ts';
import { CATALOGUE } from '../../server/alarm/catalogue.ts';
import { CONTACT_DEFAULTS } from '../../server/escalation/contact.ts';
import { alarmText } from '../../server/escalation/message.ts';
import { lostPieceMm, type SpoolOutlook, spoolOutlook } from '../../server/escalation/spool-outlook.ts';
import { urgencyOf } from '../../server/escalation/urgency.ts';
import type { Section } from '../../server/strand/section.ts';
import { sectionOf } from '../strand/section-of.ts';
import { alarmOf, NIGHT_MS, NO_SPOOL } from './alarms.ts';

const MIN = 60_000;
/** So many blobs, the last one now, one a minute. */
const blobs = (n: number, everyMs = MIN): SpoolOutlook => ({
  ...NO_SPOOL,
  blobsMs: Array.from({ length: n }, (_, i) => NIGHT_MS - i * everyMs),
});
/** Cuts at these metres of a spool of 300 m; the last one came with the alarm. */
const cutAt = (...metres: number[]): SpoolOutlook => ({
  blobsMs: [],
  cutOut: metres.map((m, i) => ({
    fromSpoolMm: m * 1000,
    toSpoolMm: m * 1000 + 20,
    fromMs: i === metres.length - 1 ? NIGHT_MS - 5000 : NIGHT_MS - 30 * MIN,
  })),
  capacityMm: 300_000,
  wantedMm: null,
});
const wanting = (metres: number, outlook: SpoolOutlook): SpoolOutlook => ({ ...outlook, wantedMm: metres * 1000 });
const ofType = (type: AlarmType, outlook = NO_SPOOL, wakeAboveBlobsPerHour = 3, priority: Priority = 'high') =>
  urgencyOf(alarmOf(priority, { type }), NIGHT_MS, { wakeAboveBlobsPerHour }, outlook, NIGHT_MS);

describe('worth getting up for', () => {
  it.each<[string, SpoolOutlook, number, boolean, RegExp]>([
    ['one blob', blobs(1), 3, false, /^One blob in the last hour can be cut out later\.$/],
    ['as many as the person lets wait', blobs(3), 3, false, /^3 blobs in the last hour can be cut out later\.$/],
    ['one more than that', blobs(4), 3, true, /^4 blobs in the last hour, and at most 3 can wait\.$/],
    ['many in a night, but slowly', blobs(14, 30 * MIN), 3, false, /^2 blobs/],
    ['a blob whose section is not known yet', NO_SPOOL, 3, false, /^One blob/],
    ['any blob, for a person who wants it so', blobs(1), 0, true, /every blob/],
    ['the first blob of a spool, wherever it is', cutAt(150), 3, false, /^One blob/],
    ['a blob that still leaves half a spool', cutAt(40, 100), 3, false, /^One blob/],
    [
      'the blob that leaves less',
      cutAt(100, 200),
      3,
      true,
      /can't hold a clean piece of 150 m any more, half of what fits on it\.$/,
    ],
    [
      'the blob that leaves less than is wanted',
      wanting(250, cutAt(100)),
      3,
      true,
      /of 250 m any more, as you want it\.$/,
    ],
    ['a blob that leaves what is wanted', wanting(90, cutAt(100, 200)), 3, false, /^One blob/],
    ['a blob on a spool that never held so much', wanting(400, cutAt(100)), 3, false, /^One blob/],
    ['a blob on a spool that is lost already', cutAt(100, 200, 250), 3, false, /^One blob/],
  ])('says of a blob: %s', (_what, outlook, limit, getUp, why) => {
    expect(ofType('blob', outlook, limit)).toEqual({ getUp, why: expect.stringMatching(why) });
  });

  it('are heat and a lost strand always, whatever their priority, and everything else of high priority', () => {
    const low = ALARM_TYPES.filter((type) => ofType(type, NO_SPOOL, 3, 'low').getUp);
    const heat = ALARM_TYPES.filter((type) => CATALOGUE[type].group === 'heat' && type !== 'zoneOscillating');
    expect(low).toEqual(ALARM_TYPES.filter((type) => heat.includes(type) || type === 'strandLost'));
    expect(ALARM_TYPES.filter((type) => !ofType(type).getUp)).toEqual(['blob']);
    expect(ofType('zoneAboveAbsoluteLimit').why).toBe('Burning plastic, fumes, fire.');
  });

  it('are thin spots only if they cost the spool its long clean piece', () => {
    expect(ofType('neck', cutAt(40), 3, 'medium')).toMatchObject({ getUp: false });
    expect(ofType('neck', cutAt(100, 200), 3, 'medium')).toMatchObject({ getUp: true });
    expect(ofType('diskFilling', cutAt(100, 200), 3, 'medium')).toMatchObject({ getUp: false });
  });

  it('say so before anything else, with the reason, and how loudly they are delivered', () => {
    const text = (getUp: boolean, kind: 'raised' | 'reminder' | 'acknowledged', priority: Priority = 'high') => {
      const urgency = { getUp, why: 'Why.' };
      const message = alarmText(alarmOf(priority, { type: 'blob' }), kind, { waitedMin: 5, by: 'Ada', urgency });
      return [message.title, message.why, message.priority];
    };
    expect(text(true, 'raised')).toEqual(['Get up: Blob', 'Why.', 'high']);
    expect(text(true, 'reminder', 'medium')).toEqual(['Get up: Blob (reminder)', 'Why.', 'high']);
    expect(text(false, 'raised')).toEqual(['Can wait: Blob', 'Why.', 'medium']);
    expect(text(false, 'raised', 'low')).toEqual(['Can wait: Blob', 'Why.', 'low']);
    expect(text(false, 'acknowledged')).toEqual(['Can wait: Blob (answered)', 'Why.', 'low']);
  });

  it('have a default for people who never chose: common practice, no source', () => {
    expect(CONTACT_DEFAULTS.wakeAboveBlobsPerHour).toBe(3);
  });
});

describe('the outlook of a spool', () => {
  const section = (fromMm: number, more: Partial<Section> = {}) =>
    sectionOf('blob', { fromMm, toMm: fromMm + 20, fromTimeMs: NIGHT_MS, toTimeMs: NIGHT_MS, ...more });
  const spool = { startGaugeMm: 1000, lengthFactor: 1, cutOuts: [], capacityMm: 300_000, wantedMm: null };

  it('counts sure blobs that no one has called good, and cuts only what is on the spool and will be discarded', () => {
    const sections = [
      section(500),
      section(9000),
      section(5000, { kind: 'marked', fromTimeMs: null }),
      section(6000, { kind: 'neck', fromTimeMs: NIGHT_MS + MIN }),
      section(7000, { verdict: 'good' }),
      section(8000, { certainty: 'inDoubt', verdict: 'doubtful' }),
    ];
    expect(spoolOutlook(sections, { ...spool, wantedMm: 250_000 })).toEqual({
      blobsMs: [NIGHT_MS, NIGHT_MS],
      cutOut: [
        { fromSpoolMm: 4000, toSpoolMm: 4020, fromMs: 0 },
        { fromSpoolMm: 5000, toSpoolMm: 5020, fromMs: NIGHT_MS + MIN },
        { fromSpoolMm: 8000, toSpoolMm: 8020, fromMs: NIGHT_MS },
      ],
      capacityMm: 300_000,
      wantedMm: 250_000,
    });
    expect(spoolOutlook([section(990)], spool)).toMatchObject({ cutOut: [{ fromSpoolMm: 0, toSpoolMm: 10 }] });
    // Strand that was cut out on the way moves the rest inwards.
    expect(spoolOutlook([section(9000)], { ...spool, cutOuts: [{ fromMm: 4000, toMm: 4200 }] }).cutOut).toMatchObject([
      { fromSpoolMm: 7800, toSpoolMm: 7820 },
    ]);
    // Wound before this spool, to the millimetre.
    expect(spoolOutlook([section(980)], spool).cutOut).toEqual([]);
    expect(spoolOutlook([section(5000, { fromTimeMs: null })], spool).blobsMs).toEqual([]);
  });

  it('loses a piece with the fault after which it cannot be had any more, and not before', () => {
    const at = (fromSpoolMm: number, agoMs: number) => ({
      fromSpoolMm,
      toSpoolMm: fromSpoolMm,
      fromMs: NIGHT_MS - agoMs,
    });
    const lost = (...cutOut: ReturnType<typeof at>[]) =>
      lostPieceMm({ blobsMs: [], cutOut, capacityMm: 300_000, wantedMm: null }, NIGHT_MS);
    // Exactly half is enough, before as after.
    expect(lost(at(150_000, 0))).toBeNull();
    expect(lost(at(140_000, 10 * MIN), at(150_000, 10 * MIN), at(200_000, 0))).toBe(150_000);
    expect(lost(at(100_000, 0), at(150_000, 10 * MIN), at(200_000, 10 * MIN))).toBe(150_000);
    // Raised up to a minute after its strand passed the gauge.
    expect(lost(at(100_000, 10 * MIN), at(200_000, MIN))).toBe(150_000);
    expect(lost(at(100_000, 10 * MIN), at(200_000, MIN + 1))).toBeNull();
  });

  it('says nothing about pieces while places or the spool are unknown', () => {
    expect(lostPieceMm(spoolOutlook([section(5000), section(9000)], null), NIGHT_MS)).toBeNull();
  });
});
