import type { Alarm, AlarmType } from '../alarm/alarm.ts';
import { CATALOGUE } from '../alarm/catalogue.ts';
import { firstSentence } from '../problem/sentence.ts';
import type { Contact } from './contact.ts';
import { blobsInLastHour, lostPieceMm, type SpoolOutlook } from './spool-outlook.ts';

/** Whether an alarm is worth waking a person for, and why in one sentence. */
export interface Urgency {
  readonly getUp: boolean;
  readonly why: string;
}

/** The one fault of the heat that costs only diameter; every other one may end in smoke or a broken screw. */
const HEAT_THAT_CAN_WAIT: ReadonlySet<AlarmType> = new Set(['zoneOscillating']);

/** Faults in strand that can also be cut out afterwards. */
const CAN_BE_CUT_OUT: ReadonlySet<AlarmType> = new Set(['blob', 'blobInDoubt', 'neck', 'offTolerance']);

/**
 * Heat and a lost strand always wake, and so does whatever else has high priority. A blob wakes only if blobs come faster than
 * this person puts up with, or with the fault that costs the spool its long clean piece.
 * @param sinceMs when the alarm started to call
 */
export function urgencyOf(
  alarm: Alarm,
  sinceMs: number,
  { wakeAboveBlobsPerHour }: Pick<Contact, 'wakeAboveBlobsPerHour'>,
  outlook: SpoolOutlook,
  nowMs: number,
): Urgency {
  const { type, priority } = alarm;
  const isHeat = CATALOGUE[type].group === 'heat' && !HEAT_THAT_CAN_WAIT.has(type);
  if (isHeat || type === 'strandLost' || (priority === 'high' && type !== 'blob'))
    return { getUp: true, why: firstSentence(CATALOGUE[type].consequence) };
  if (!CAN_BE_CUT_OUT.has(type)) return { getUp: false, why: 'Nothing gets worse if this waits.' };
  const lostMm = lostPieceMm(outlook, sinceMs);
  if (lostMm !== null) {
    const metres = Math.floor(lostMm / 1000);
    const which = outlook.wantedMm === null ? 'half of what fits on it' : 'as you want it';
    return { getUp: true, why: `This spool can't hold a clean piece of ${metres} m any more, ${which}.` };
  }
  if (type !== 'blob') return { getUp: false, why: 'Its place is marked, so it can be dealt with later.' };
  // The blob that raised the alarm is one, also where its section is not known yet.
  const blobs = Math.max(1, blobsInLastHour(outlook, nowMs));
  if (wakeAboveBlobsPerHour === 0) return { getUp: true, why: 'You asked to be woken for every blob.' };
  if (blobs > wakeAboveBlobsPerHour)
    return { getUp: true, why: `${blobs} blobs in the last hour, and at most ${wakeAboveBlobsPerHour} can wait.` };
  const count = blobs === 1 ? 'One blob' : `${blobs} blobs`;
  return { getUp: false, why: `${count} in the last hour can be cut out later.` };
}
