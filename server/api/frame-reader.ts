import { Ajv } from 'ajv';
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

/** A component that occurs twice in a schema would be defined twice. */
function nameless(schema: object): object {
  return JSON.parse(JSON.stringify(schema, (key, value) => (key === '$id' ? undefined : value)));
}
