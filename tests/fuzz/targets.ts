import type { FuzzTarget } from './fuzz.ts';
import { httpTarget } from './http-target.ts';
import { readingTarget } from './reading-target.ts';

/** Everything that takes what comes from outside. */
export const TARGETS: readonly FuzzTarget[] = [readingTarget, httpTarget] as readonly FuzzTarget[];
