/** One value of a reading line, for showing what the line sends. */
export interface LineField {
  readonly name: string;
  readonly value: string;
}

/** Splits a reading line for display only. The service alone decides what it means. */
export function lineFields(
  line: string,
  shape: 'named' | 'json' | 'columns' | null,
  columnNames: readonly string[],
): LineField[] {
  const bare = line.replace(/\*[0-9a-f]{2}\s*$/i, '').trim();
  if (bare === '' || bare.startsWith('#')) return [];
  if (shape === 'json' || bare.startsWith('{')) {
    try {
      const parsed = JSON.parse(bare) as Record<string, unknown>;
      return Object.entries(parsed).map(([name, value]) => ({ name, value: String(value) }));
    } catch {
      return [];
    }
  }
  if (shape === 'columns' || !/[=:]/.test(bare)) {
    const values = bare.split(/[;\t]/.test(bare) ? /\s*[;\t]\s*/ : /\s*,\s*|\s+/);
    return values.map((value, i) => ({ name: columnNames[i] ?? `column ${i + 1}`, value }));
  }
  return [...bare.matchAll(/([^\s,=:]+)\s*[=:]\s*([^\s,]*)/g)].map(([, name = '', value = '']) => ({ name, value }));
}
