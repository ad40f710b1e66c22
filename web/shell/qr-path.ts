/** One SVG path for the dark modules of a QR code, one unit per module. A run along a row becomes one box. */
export function qrPath(modules: readonly (readonly boolean[])[]): string {
  let d = '';
  modules.forEach((row, y) => {
    let x = 0;
    while (x < row.length) {
      if (!row[x]) {
        x += 1;
        continue;
      }
      let end = x;
      while (row[end]) end += 1;
      d += `M${x} ${y}h${end - x}v1h${x - end}z`;
      x = end;
    }
  });
  return d;
}

/** Whether only this machine reaches an address. */
export function isOwnAddress(origin: string): boolean {
  const host = new URL(origin).hostname;
  return host === 'localhost' || host === '[::1]' || host.startsWith('127.');
}

/** Why another device cannot open an address; null = it can. */
export function addressFault(origin: string): string | null {
  return isOwnAddress(origin)
    ? `The code leads to ${new URL(origin).hostname}, which only this machine can reach. Open this page under the machine’s name on the network, then print.`
    : null;
}
