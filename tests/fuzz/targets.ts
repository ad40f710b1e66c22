import type { FuzzTarget } from './fuzz.ts';
import { httpTarget } from './http-target.ts';
import { importTarget } from './import-target.ts';
import { readingTarget } from './reading-target.ts';
import { recordTarget } from './record-target.ts';
import { socketTarget } from './socket-target.ts';

/** Everything that takes what comes from outside, or from a disk. */
export const TARGETS: readonly FuzzTarget[] = [
  readingTarget,
  httpTarget,
  importTarget,
  recordTarget,
  socketTarget,
] as readonly FuzzTarget[];
