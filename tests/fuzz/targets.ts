import type { FuzzTarget } from './fuzz.ts';
import { httpTarget } from './http-target.ts';
import { importTarget } from './import-target.ts';
import { readingTarget } from './reading-target.ts';
import { socketTarget } from './socket-target.ts';

/** Everything that takes what comes from outside. */
export const TARGETS: readonly FuzzTarget[] = [
  readingTarget,
  httpTarget,
  importTarget,
  socketTarget,
] as readonly FuzzTarget[];
