import { SerializerSelector } from '@fastify/fast-json-stringify-compiler';
import type { Ajv, ValidateFunction } from 'ajv';

/*
 * What checks a request and what writes an answer is compiled out of their schemas when the first one comes that needs it.
 * To compile those of all routes takes a third of a start, and most of them are not asked for in an evening.
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

const serializers = SerializerSelector();

/** For fastify's `schemaController`. */
export const buildSerializerOnDemand: typeof serializers = (externalSchemas, options) => {
  const compile = serializers(externalSchemas, options);
  return (route) => {
    let write: ((answer: unknown) => string) | null = null;
    return (answer) => {
      write ??= compile(route);
      return write(answer);
    };
  };
};
