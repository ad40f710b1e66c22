import { Problem } from '../problem/problem.ts';

/** What a template may name; each stands for a text. */
export const PLACEHOLDERS = {
  title: 'two or three words: “Blob”',
  text: 'the sentence of the alarm',
  check: 'what to check first',
  caution: 'the safety remark, if any',
  priority: 'high, medium or low',
  kind: 'raised, again, reminder, escalated, acknowledged, drill, trouble or test',
  time: 'the clock time of the alarm',
  line: 'the name of the line',
  link: 'the address where it is answered, if the page’s address is known',
  key: 'one for each message, for notification copies apart',
} as const;
export type Placeholder = keyof typeof PLACEHOLDERS;

type Json = string | number | boolean | null | readonly Json[] | { readonly [key: string]: Json };

/** A template that can be filled without any error. */
export interface Template {
  fill(values: Readonly<Record<Placeholder, string>>): string;
}

/**
 * A template is JSON; in its texts `{{title}}` and the like are replaced. Because they are replaced inside parsed texts,
 * what comes out is JSON whatever an alarm says.
 * @throws Problem `bad-template` naming the place
 */
export function parseTemplate(source: string): Template {
  let parsed: Json;
  try {
    parsed = JSON.parse(source) as Json;
  } catch (thrown) {
    throw bad(
      `The template is not JSON${placeIn(source, thrown)}.`,
      'Texts stand in double quotes; commas between entries.',
    );
  }
  if (typeof parsed !== 'object' || parsed === null) {
    throw bad('The template is no JSON object.', 'Write for instance {"text": "{{title}}: {{text}} {{caution}}"}.');
  }
  let found = 0;
  walk(parsed, (text) => {
    found += checkText(text);
    return text;
  });
  if (found === 0) {
    throw bad('The template names nothing of the message.', `Put at least {{text}} into one of its texts.`);
  }
  return {
    fill: (values) =>
      JSON.stringify(
        walk(parsed, (text) => text.replace(/\{\{\s*(\w+)\s*\}\}/g, (_, name: Placeholder) => values[name])),
      ),
  };
}

/** Number of placeholders in a text. */
function checkText(text: string): number {
  let count = 0;
  for (const part of text.split('{{').slice(1)) {
    const end = part.indexOf('}}');
    if (end < 0) throw bad(`In “${text}” a {{ has no }}.`, 'Close it, as in {{text}}.');
    const name = part.slice(0, end).trim();
    if (!Object.hasOwn(PLACEHOLDERS, name)) {
      throw bad(
        `The template names “${name}”, which is not known.`,
        `Known are ${Object.keys(PLACEHOLDERS).join(', ')}.`,
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

/** " (line 2, character 7)", where the engine tells the place. */
function placeIn(source: string, thrown: unknown): string {
  const at = /position (\d+)/.exec(String(thrown))?.[1];
  if (at === undefined) return '';
  const before = source.slice(0, Number(at)).split('\n');
  return ` (line ${before.length}, character ${(before.at(-1) ?? '').length + 1})`;
}

function bad(what: string, remedy: string): Problem {
  return new Problem('bad-template', what, remedy);
}
