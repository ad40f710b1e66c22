import type { RouteOptions } from 'fastify';
import type { TSchema } from 'typebox';
import { type Key, type RouteSpec, TAGS } from './contract/route-table.ts';

/*
 * Some addresses still declare their schemas where they are served, without name and description. The OpenAPI document
 * shows them all the same. This file goes with the last of them.
 */

declare module 'fastify' {
  interface FastifySchema {
    tags?: readonly string[];
    summary?: string;
    produces?: readonly string[];
  }
}

/** null = in the contract already, or not for other programs. */
export function undeclared(route: RouteOptions, declared: ReadonlySet<string>): [Key, RouteSpec] | null {
  const { method, url, schema } = route;
  const key = `${method} ${url}` as Key;
  if (declared.has(key) || schema?.summary === undefined || typeof method !== 'string' || method === 'HEAD')
    return null;
  const { params, querystring, body, response, produces, tags, summary } = schema;
  const [[status, answer]] = Object.entries(response as object).filter(([code]) => code.startsWith('2')) as [
    [string, TSchema & { type?: string }],
  ];
  const spec = {
    operationId: nameOf(method, url),
    tag: tags?.[0] !== undefined && tags[0] in TAGS ? tags[0] : 'spools',
    summary,
    description: `${summary}.`,
    ...(params === undefined ? {} : { params }),
    ...(querystring === undefined ? {} : { query: querystring }),
    ...(body === undefined ? {} : { body }),
    answers: { [status]: answer.type === 'null' ? null : answer },
    ...(produces === undefined ? {} : { produces }),
  };
  return [key, spec as unknown as RouteSpec];
}

/** 'PUT /api/runs/:id/note' → putRunsNote */
function nameOf(method: string, url: string): string {
  const parts = url.split(/[/-]/).filter((part) => part !== '' && part !== 'api');
  const named = parts.map((part) => {
    const word = part.replace(':', 'by-').replace(/-(\w)/, (_, letter: string) => letter.toUpperCase());
    return `${word[0]!.toUpperCase()}${word.slice(1)}`;
  });
  return method.toLowerCase() + named.join('');
}
