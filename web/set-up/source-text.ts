/** Splits the source setting into its parts, and joins them again. */
export type SourceParts =
  /** None is chosen. */
  | { readonly kind: 'none' }
  | { readonly kind: 'simulator'; readonly scenario: string }
  | { readonly kind: 'serial'; readonly path: string; readonly baud: string }
  | { readonly kind: 'tcp'; readonly address: string }
  | { readonly kind: 'file'; readonly path: string; readonly pace: string };

export function partsOf(source: string): SourceParts {
  if (source === 'none') return { kind: 'none' };
  const isBarePort = /^\/dev\/|^COM\d+(?:\?|$)/i.test(source);
  const address = isBarePort ? `serial:${source}` : source;
  const [, kind = '', rest = ''] = /^(simulator|serial|tcp|file):?(.*)$/.exec(address) ?? [];
  const [before = '', query = ''] = rest.split('?');
  const of = (name: string) => new URLSearchParams(query).get(name) ?? '';
  if (kind === 'serial') return { kind, path: before, baud: of('baud') || '115200' };
  if (kind === 'tcp') return { kind, address: rest };
  if (kind === 'file') return { kind, path: before, pace: of('pace') || '1' };
  return { kind: 'simulator', scenario: rest };
}

export function sourceText(parts: SourceParts): string {
  switch (parts.kind) {
    case 'none':
      return 'none';
    case 'simulator':
      return `simulator:${parts.scenario.trim()}`;
    case 'serial':
      return `serial:${parts.path.trim()}?baud=${parts.baud.trim() || '115200'}`;
    case 'tcp':
      return `tcp:${parts.address.trim()}`;
    case 'file':
      return `file:${parts.path.trim()}?pace=${parts.pace.trim() || '1'}`;
  }
}
