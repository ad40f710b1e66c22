import { open } from 'node:fs/promises';
import { type LogSurvey, surveyLog, type UnusableLog } from '../reading/log-survey.ts';
import type { LineSettings } from '../settings/line-settings.ts';

const HEAD_BYTES = 262_144;
const TAIL_BYTES = 65_536;

/** Look at the beginning and the end of a file that may be a log of reading lines. */
export async function surveyFile(
  path: string,
  settings: LineSettings,
  changedMs: number | null,
): Promise<LogSurvey | UnusableLog> {
  const file = await open(path, 'r');
  try {
    const { size } = await file.stat();
    const piece = async (from: number, length: number) => {
      const { buffer, bytesRead } = await file.read(Buffer.alloc(length), 0, length, from);
      return buffer.subarray(0, bytesRead);
    };
    const head = await piece(0, Math.min(HEAD_BYTES, size));
    const tailFrom = Math.max(head.length, size - TAIL_BYTES);
    return surveyLog(head, await piece(tailFrom, size - tailFrom), settings, changedMs);
  } finally {
    await file.close();
  }
}
