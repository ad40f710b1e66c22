import { live } from '../service/live-store.ts';
import { stagedWords } from '../words/names.ts';

/** That no line is being watched, but a replay or a simulation; and whose times are told, where they run otherwise. */
export function StagedNote() {
  const link = live.value?.link;
  if (!link?.stagedAs) return null;
  const times = link.timing === 'recorded' ? ' All times are those of its readings.' : '';
  return (
    <p class="staged fine" data-testid="staged">
      This is {stagedWords(link.stagedAs)}, not a line that runs now.{times}
    </p>
  );
}
