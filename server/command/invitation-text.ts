import { encode } from 'uqr';

interface ShownInvitation {
  readonly code: string;
  readonly right: string;
  readonly validMs: number;
  readonly addresses: readonly string[];
  readonly isForThisMachine: boolean;
  readonly certificatePage: string | null;
  readonly ownAddress: string;
}

/**
 * An invitation as text for a terminal.
 * @param address of the page as the user states it; null = the best one that the service knows
 * @param withPicture also draws the link as a QR code
 */
export function invitationText(invitation: ShownInvitation, address: string | null, withPicture: boolean): string {
  const { code, right, validMs, addresses, certificatePage, ownAddress, isForThisMachine } = invitation;
  const [best = ownAddress, ...others] = address === null ? addresses : [address];
  const link = `${best}/pair#${code}`;
  const forOthers = address !== null || addresses.length > 0;
  return [
    `To pair a device with the right to ${right}, open this link on it within ${Math.round(validMs / 60_000)} minutes. It works once:`,
    '',
    `  ${link}`,
    '',
    ...(withPicture && forOthers ? [qrText(link), ''] : []),
    ...(forOthers
      ? []
      : [
          isForThisMachine
            ? 'It works on this machine only. For other devices, start Strandward with --host 0.0.0.0, or give --address.'
            : 'This machine has no network address now. Connect it and run strandward pair again, or give --address.',
        ]),
    ...(certificatePage !== null && forOthers
      ? [`A new device first installs the certificate of the house: ${certificatePage}`]
      : []),
    ...(others.length > 0 ? [`This machine also has the address ${others.join(', ')}.`] : []),
  ]
    .join('\n')
    .trimEnd();
}

/** Black on white whatever the colours of the terminal, so that a phone can read it. */
const INK_ON_PAPER = '\x1b[38;5;16;48;5;231m';
const PLAIN = '\x1b[0m';
const HALVES = [' ', '▄', '▀', '█'] as const;

/** Two rows of modules a line, because a character is about twice as high as wide. */
function qrText(link: string): string {
  const rows = encode(link, { ecc: 'L', border: 2 }).data;
  const lines: string[] = [];
  for (let y = 0; y < rows.length; y += 2) {
    const line = (rows[y] ?? []).map((dark, x) => HALVES[(dark ? 2 : 0) + (rows[y + 1]?.[x] ? 1 : 0)]).join('');
    lines.push(`${INK_ON_PAPER}${line}${PLAIN}`);
  }
  return lines.join('\n');
}
