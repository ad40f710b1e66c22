import { type Logger, pino, stdTimeFunctions } from 'pino';
import type { Log } from '../monitor/log.ts';
import type { LogLevel } from '../settings/startup-settings.ts';
import { plainLine } from './plain-line.ts';

/** Destination of the log: stdout, or a substitute. */
export interface LogOutput {
  readonly isTTY?: boolean;
  write(text: string): unknown;
}

/** Characters that wait for whoever reads the log. */
const WAITING_MAX = 65_536;

/** The log of the service: readable lines on a terminal, otherwise JSON. */
export function serviceLog(level: LogLevel, output: LogOutput): { readonly logger: Logger; readonly log: Log } {
  // Synchronous, so that the last lines before an exit are not lost. But a log that no one reads any more, or whose disk is full,
  // must neither stop the service nor hold it up: then lines are left out.
  const destination = () =>
    pino.destination({ dest: 1, sync: true, maxLength: WAITING_MAX, retryEAGAIN: () => false }).on('error', () => {});
  const logger = pino(
    { level, base: null, timestamp: stdTimeFunctions.isoTime },
    output.isTTY === true
      ? { write: (line: string) => void output.write(`${plainLine(JSON.parse(line))}\n`) }
      : destination(),
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
