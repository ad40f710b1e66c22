import { useMemo } from 'preact/hooks';
import { encode } from 'uqr';
import { qrPath } from './qr-path.ts';
import { codeSideMm, QUIET_MODULES } from './qr-size.ts';

/** Readable even if a quarter of it is not (error correction level Q), because labels get scratched and greasy. */
export function QrCode({ text, label, mostMm }: { text: string; label: string; mostMm?: number }) {
  const code = useMemo(() => encode(text, { ecc: 'Q', border: QUIET_MODULES }), [text]);
  const side = mostMm === undefined ? undefined : `${codeSideMm(code.size, mostMm)}mm`;
  return (
    <svg
      class="qr"
      style={side && { width: side, height: side }}
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
