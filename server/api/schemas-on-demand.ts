import type { Ajv, ValidateFunction } from 'ajv';
import { compileWriter, type WriteAnswer } from './answer-writer.ts';

/*
 * The functions that check a request and write a response are compiled from their schemas when first needed. Compiling
 * those of all routes would take a third of the start-up time, and most of them are rarely used.
 */

/** The schemas themselves are checked by a test, not at each start. */
export const SCHEMA_CHECKS = {
  strict: false,
  strictNumbers: true,
  addUsedSchema: false,
  meta: false,
  validateSchema: false,
} as const;

type Check = Pick<ValidateFunction, 'errors'> & ((data: unknown) => boolean);

/** @param converts whether text becomes numbers: only a second look sees that `1e999` has become Infinity */
export function checkOnDemand(ajv: Ajv, schema: object, converts = false): Check {
  let compiled: ValidateFunction | null = null;
  const check: Check = (data) => {
    compiled ??= ajv.compile(schema);
    const holds = compiled(data) && (!converts || compiled(data));
    check.errors = compiled.errors ?? null;
    return holds;
  };
  return check;
}

export function writeOnDemand(schema: object): WriteAnswer {
  let write: WriteAnswer | null = null;
  return (answer) => {
    write ??= compileWriter(schema);
    return write(answer);
  };
}
