import { Ajv } from 'ajv';
import type { Static, TSchema } from 'typebox';
import { Problem } from '../problem/problem.ts';
import { type LiveFrame, ReadingsFrame, SkippedFrame, StateFrame } from './contract/live.ts';
import { checkOnDemand, SCHEMA_CHECKS } from './schemas-on-demand.ts';

/**
 * Reads frames that another service sends. Fields that this version does not know are allowed.
 * @returns null = not a frame of this version
 */
export function frameReader(): (text: string) => LiveFrame | null {
  const ajv = new Ajv(SCHEMA_CHECKS);
  const checks: Readonly<Record<string, (data: unknown) => boolean>> = {
    readings: checkOnDemand(ajv, nameless(ReadingsFrame)),
    state: checkOnDemand(ajv, nameless(StateFrame)),
    skipped: checkOnDemand(ajv, nameless(SkippedFrame)),
  };
  return (text) => {
    let frame: unknown;
    try {
      frame = JSON.parse(text);
    } catch {
      return null;
    }
    const { kind } = (frame ?? {}) as { kind?: unknown };
    if (typeof kind !== 'string' || !Object.hasOwn(checks, kind)) return null;
    return checks[kind]?.(frame) ? (frame as LiveFrame) : null;
  };
}

/** Another line is a stranger: what it writes is cut to the longest text that users enter about a preparation. */
export const TEXT_MAX = 500;

/**
 * Reads an answer of another service. Fields that this version does not know are allowed.
 * @returns throws Problem `line-failed` if it is not an answer of this version
 */
export function answerReader<S extends TSchema>(schema: S): (text: string) => Static<S> {
  let check: ((answer: unknown) => boolean) | null = null;
  return (text) => {
    // Made for the first answer: most houses have one line.
    check ??= checkOnDemand(new Ajv(SCHEMA_CHECKS), nameless(schema));
    let answer: unknown;
    try {
      answer = JSON.parse(text, (_, value) => (typeof value === 'string' ? cut(value, TEXT_MAX) : value));
    } catch {
      answer = undefined;
    }
    if (check(answer)) return answer as Static<S>;
    throw new Problem(
      'line-failed',
      'That line runs another version of Strandward, or is not Strandward.',
      'Install the same version on both machines.',
    );
  };
}

export function cut(text: string, most: number): string {
  return text.length > most ? `${text.slice(0, most - 1)}…` : text;
}

/** A component that occurs twice in a schema would be defined twice. */
function nameless(schema: object): object {
  return JSON.parse(JSON.stringify(schema, (key, value) => (key === '$id' ? undefined : value)));
}
