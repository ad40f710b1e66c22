import type { FuzzTarget } from './fuzz.ts';
import { readingTarget } from './reading-target.ts';

/** Everything that takes what comes from outside. */
export const TARGETS: readonly FuzzTarget[] = [readingTarget] as readonly FuzzTarget[];
