/** The text with a capital letter, as at the start of a sentence. */
export function capital(text: string): string {
  return text.charAt(0).toUpperCase() + text.slice(1);
}

/** “1 row”, “3 rows”. */
export function counted(count: number, one: string, many = `${one}s`): string {
  return `${count} ${count === 1 ? one : many}`;
}

/** “Ada, Ben and Cleo”. */
export function listed(items: readonly string[]): string {
  return items.length < 2 ? (items[0] ?? '') : `${items.slice(0, -1).join(', ')} and ${items.at(-1)}`;
}

/** Up to the first full stop, question or exclamation mark that a space follows; a dot within a number ends nothing. */
export function firstSentence(text: string): string {
  const [first = ''] = text.split(/(?<=[.!?]) /, 1);
  return first;
}

/** What JSON Schema calls the types of values. */
export const TYPE_TEXT: Readonly<Record<string, string>> = {
  number: 'a number',
  integer: 'a whole number',
  string: 'a text',
  boolean: 'true or false',
  array: 'a list',
  object: 'an object of names and values',
  null: 'null',
};

/** What JSON Schema’s bounds ask for: "500 or less"; null = it is no bound. */
export function boundText(keyword: string, limit: unknown): string | null {
  switch (keyword) {
    case 'minimum':
      return `${limit} or more`;
    case 'maximum':
      return `${limit} or less`;
    case 'exclusiveMinimum':
      return `more than ${limit}`;
    case 'exclusiveMaximum':
      return `less than ${limit}`;
    default:
      return null;
  }
}
