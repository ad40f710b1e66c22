import { nestsDeeper } from '../problem/nesting.ts';
import { Problem } from '../problem/problem.ts';

/** Placeholders of a template, with their descriptions. */
export const PLACEHOLDERS = {
  title: 'two or three words: “Blob”',
  text: 'why to get up or not, and the sentence of the alarm',
  check: 'what to check first',
  caution: 'the safety note, if any',
  priority: 'high, medium or low',
  kind: 'raised, again, reminder, escalated, acknowledged, drill, trouble, ready or test',
  time: 'the clock time of the alarm',
  line: 'the name of the line',
  link: 'the address for answering it, if the address of the page is known',
  urgency: 'getUp or canWait; empty for a test',
  conversation: 'the same for all messages about one thing, such as all blobs of a run',
  key: 'unique for each message, to recognise copies',
} as const;
export type Placeholder = keyof typeof PLACEHOLDERS;

/** More than any chat service asks for. */
const LEVELS_MAX = 32;

type Json = string | number | boolean | null | readonly Json[] | { readonly [key: string]: Json };

/** A checked template. */
export interface Template {
  fill(values: Readonly<Record<Placeholder, string>>): string;
}

/**
 * A template is JSON with placeholders such as `{{title}}` in its strings. They are replaced inside the parsed strings, so the
 * result is valid JSON whatever an alarm says.
 * @throws Problem `bad-template`
 */
export function parseTemplate(source: string): Template {
  let parsed: Json;
  try {
    parsed = JSON.parse(source) as Json;
  } catch (thrown) {
    throw bad(
      `The template is not valid JSON${placeIn(source, thrown)}.`,
      'Check the double quotes around texts and the commas between entries.',
    );
  }
  if (typeof parsed !== 'object' || parsed === null) {
    throw bad(
      'The template is not a JSON object.',
      'Write something like {"text": "{{title}}: {{text}} {{caution}}"}.',
    );
  }
  if (nestsDeeper(parsed, LEVELS_MAX)) {
    throw bad(
      `The template has more than ${LEVELS_MAX} levels of lists and objects.`,
      'Write only what the receiver needs.',
    );
  }
  let placeholders = 0;
  walk(parsed, (text) => {
    placeholders += checkText(text);
    return text;
  });
  if (placeholders === 0) {
    throw bad('The template contains no placeholder.', 'Put at least {{text}} into one of its texts.');
  }
  return {
    fill: (values) =>
      JSON.stringify(
        walk(parsed, (text) => text.replace(/\{\{\s*(\w+)\s*\}\}/g, (_, name: Placeholder) => values[name])),
      ),
  };
}

/** Counts the placeholders in a text. @throws Problem `bad-template` */
function checkText(text: string): number {
  let count = 0;
  for (const part of text.split('{{').slice(1)) {
    const end = part.indexOf('}}');
    if (end < 0) throw bad(`In “${text}” a {{ has no matching }}.`, 'Close it, as in {{text}}.');
    const name = part.slice(0, end).trim();
    if (!Object.hasOwn(PLACEHOLDERS, name)) {
      throw bad(
        `The template has an unknown placeholder “${name}”.`,
        `Use one of ${Object.keys(PLACEHOLDERS).join(', ')}.`,
      );
    }
    count += 1;
  }
  return count;
}

function walk(json: Json, change: (text: string) => string): Json {
  if (typeof json === 'string') return change(json);
  if (Array.isArray(json)) return json.map((one: Json) => walk(one, change));
  if (typeof json === 'object' && json !== null) {
    return Object.fromEntries(Object.entries(json).map(([key, value]) => [key, walk(value, change)]));
  }
  return json;
}

/** " (line 2, character 7)" where the JavaScript engine reports the position, else ''. */
function placeIn(source: string, thrown: unknown): string {
  const at = /position (\d+)/.exec(String(thrown))?.[1];
  if (at === undefined) return '';
  const before = source.slice(0, Number(at)).split('\n');
  return ` (line ${before.length}, character ${(before.at(-1) ?? '').length + 1})`;
}

function bad(what: string, remedy: string): Problem {
  return new Problem('bad-template', what, remedy);
}
