/** An entry about notifications that cannot be read. It is left out of every list. */
export interface UnreadableEntry {
  readonly kind: 'channel' | 'person' | 'rules';
  readonly id: number;
  /** As far as it can be read; null = unknown. */
  readonly name: string | null;
}

/** Who is not notified for that reason, and what to do. */
export function unreadableText({ kind, name }: UnreadableEntry): string {
  switch (kind) {
    case 'channel':
      return `The channel “${name}” cannot be read, so nothing is sent over it. Enter it again by the same name, or remove it.`;
    case 'person':
      return `The entry of ${name ?? 'a person'} cannot be read, so ${name === null ? 'they are' : `${name} is`} not notified. Enter it again, and remove the one that cannot be read.`;
    case 'rules':
      return 'The rules of notification cannot be read, so the defaults apply. Enter yours again.';
  }
}

/** For the alarm about the record. */
export function damageText(entries: readonly UnreadableEntry[]): string | null {
  const [first] = entries;
  if (first === undefined) return null;
  const of = {
    channel: `the channel “${first.name}”`,
    person: `the entry of ${first.name ?? 'a person'}`,
    rules: 'the rules of notification',
  };
  return `${of[first.kind]} cannot be read: see People`;
}
