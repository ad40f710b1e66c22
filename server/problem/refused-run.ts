import { Problem } from './problem.ts';

/** A file from which no run can be taken. @param what is wrong with it, to follow a colon */
export function refusedArchive(what: string, cause?: unknown): Problem {
  return new Problem(
    'bad-archive',
    `This file cannot be imported as a run: ${what}.`,
    'Choose an unchanged file that “Export the whole run” made. Nothing was imported.',
    { cause },
  );
}

/** A log from which this service made a run that the record cannot hold. @param what is wrong with the run, to follow a colon */
export function refusedLog(what: string, cause?: unknown): Problem {
  return new Problem(
    'bad-log',
    `The run in this log cannot be kept: ${what}.`,
    'Check on the Set-up page that names and units are those of the log. Recording continues.',
    { cause },
  );
}
