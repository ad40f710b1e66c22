import type { RunView } from '../../server/api/contract/runs-and-spools.ts';
import { KIND_TEXT } from '../../server/strand/section-names.ts';
import { counted } from '../format/numbers.ts';
import { clock } from '../format/times.ts';
import type { ShapeOf } from '../shell/shape.tsx';

type Quality = NonNullable<RunView['verdict']['quality']>;

const QUALITY_TEXT: Record<Quality, string> = {
  good: 'Good',
  goodAfterCutting: 'Good after cutting',
  notUsable: 'Not usable',
  notKnown: 'Not known',
};

const QUALITY_SHAPE: Record<Quality, ShapeOf> = {
  good: 'calm',
  goodAfterCutting: 'abnormal',
  notUsable: 'danger',
  notKnown: 'notice',
};

/** The verdict as a word with its shape; a run that is still going has only one so far. */
export function verdictWord({ verdict: { quality }, endedMs }: RunView): { text: string; shape: ShapeOf } {
  if (quality === null) return { text: endedMs === null ? 'Too early to say' : 'Nothing wound', shape: 'notice' };
  const text = QUALITY_TEXT[quality];
  return { text: endedMs === null ? `So far: ${text.toLowerCase()}` : text, shape: QUALITY_SHAPE[quality] };
}

/** "20:40 Zone 1 (Feed): losing temperature. From 20:44 on: out of tolerance." '' = nothing went wrong. */
export function troubleText({ trouble, timeZone }: RunView): string {
  if (trouble === null) return '';
  const { title, atMs, more, followedBy } = trouble;
  const strand =
    followedBy === null
      ? ''
      : ` From ${clock(followedBy.atMs, timeZone)} on: ${KIND_TEXT[followedBy.kind].toLowerCase()}.`;
  const others = more === 0 ? '' : ` ${counted(more, 'more alarm')} about heat, gauge or cable followed.`;
  return `${clock(atMs, timeZone)} ${title}.${strand}${others}`;
}
