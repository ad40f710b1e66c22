import type { LiveState } from '../../server/api/contract/live-state.ts';

/** That nothing stands against something is said of what is watched only. */
export function noneText(notWatched: LiveState['notWatched']): string {
  const watched = (['strand', 'heat'] as const).filter((one) => !notWatched.includes(one)).map((one) => `the ${one}`);
  const none = `None. Nothing stands against ${[...watched, 'the link'].join(', ').replace(/, ([^,]*)$/, ' or $1')}.`;
  if (notWatched.length === 0) return none;
  return `${none} ${notWatched.length === 2 ? 'Strand and heat are' : `The ${notWatched[0]} is`} not watched.`;
}
