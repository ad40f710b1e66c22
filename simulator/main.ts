/** The simulator as a program of its own. */

import { simulate } from './command/simulate.ts';

process.exitCode = await simulate(process.argv.slice(2));
