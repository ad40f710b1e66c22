export interface LabelSize {
  readonly name: 'tall' | 'small' | 'sheet24' | 'sheet10';
  readonly text: string;
  /** Largest side of the code with its quiet zone. */
  readonly codeMm: number;
  /** Labels on a sheet of A4; null = each label is a sheet. */
  readonly onSheet: number | null;
}

export const LABEL_SIZES: readonly LabelSize[] = [
  { name: 'tall', text: '62 × 100 mm', codeMm: 28, onSheet: null },
  { name: 'small', text: '60 × 40 mm', codeMm: 25, onSheet: null },
  { name: 'sheet24', text: 'A4, 24 of 70 × 37 mm', codeMm: 21, onSheet: 24 },
  { name: 'sheet10', text: 'A4, 10 of 105 × 57 mm', codeMm: 34, onSheet: 10 },
];

/**
 * What the code of a label says. In capital letters, which a QR code packs more tightly; scheme and host may be written so
 * (RFC 3986, 6.2.2.1), but not a path of the address.
 */
export function linkOf(address: string, code: string): string {
  const { host, protocol, pathname } = new URL(address);
  return pathname === '/' ? `${protocol}//${host}/C/${code}`.toUpperCase() : `${address}/c/${code}`;
}
