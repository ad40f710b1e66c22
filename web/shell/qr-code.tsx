import { useMemo } from 'preact/hooks';
import { encode } from 'uqr';
import { qrPath } from './qr-path.ts';

/** Readable even if a quarter of it is not (error correction level Q), because labels get scratched and greasy. */
export function QrCode({ text, label }: { text: string; label: string }) {
  const code = useMemo(() => encode(text, { ecc: 'Q', border: 4 }), [text]);
  return (
    <svg
      class="qr"
      viewBox={`0 0 ${code.size} ${code.size}`}
      role="img"
      aria-label={label}
      shape-rendering="crispEdges"
    >
      <rect class="qr-ground" width={code.size} height={code.size} />
      <path class="qr-dark" d={qrPath(code.data)} />
    </svg>
  );
}
