import { type Logger, pino, stdTimeFunctions } from 'pino';
import type { Log } from '../monitor/log.ts';
import type { LogLevel } from '../settings/startup-settings.ts';
import { plainLine } from './plain-line.ts';

/** Where the log goes: stdout, or what stands in for it. */
export interface LogOutput {
  readonly isTTY?: boolean;
  write(text: string): unknown;
}

/** The log of the service: plain lines where a person reads them on a terminal, JSON where a program does. */
export function serviceLog(level: LogLevel, output: LogOutput): { readonly logger: Logger; readonly log: Log } {
  const logger = pino(
    { level, base: null, timestamp: stdTimeFunctions.isoTime },
    output.isTTY === true
      ? { write: (line: string) => void output.write(`${plainLine(JSON.parse(line))}\n`) }
      : // Written at once, so that the last lines before an exit are not lost.
        pino.destination({ dest: 1, sync: true }),
  );
  return {
    logger,
    log: {
      info: (message, facts) => logger.info(facts ?? {}, message),
      warn: (message, facts) => logger.warn(facts ?? {}, message),
      error: (message, facts) => logger.error(facts ?? {}, message),
    },
  };
}
