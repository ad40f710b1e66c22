import type { Ajv, ValidateFunction } from 'ajv';
import { compileWriter, type WriteAnswer } from './answer-writer.ts';

/*
 * What checks a request and what writes an answer is compiled from their schemas when it is first needed. To compile
 * those of all routes takes a third of a start, and most of them are not used in an evening.
 */

type Check = Pick<ValidateFunction, 'errors'> & ((data: unknown) => boolean);

export function checkOnDemand(ajv: Ajv, schema: object): Check {
  let compiled: ValidateFunction | null = null;
  const check: Check = (data) => {
    compiled ??= ajv.compile(schema);
    const holds = compiled(data);
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
