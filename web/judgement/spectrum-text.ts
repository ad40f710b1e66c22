import type { SpectrumView } from '../../server/api/contract/on-the-spool.ts';

const NBSP = '\u00a0';

/** A period as it is told: m and mm along the strand, min, s and ms in time; at most `digits` significant digits. */
export function periodText(period: number, unit: SpectrumView['unit'], digits = 2): string {
  const tell = (value: number, name: string) => {
    const rounded = Number(value.toPrecision(digits));
    return `${rounded}${NBSP}${name}`;
  };
  if (unit === 'mm') return period >= 1000 ? tell(period / 1000, 'm') : tell(period, 'mm');
  if (period >= 120) return tell(period / 60, 'min');
  return period >= 1 ? tell(period, 's') : tell(period * 1000, 'ms');
}

export function sharperText(sharperIn: SpectrumView['peaks'][number]['sharperIn']): string {
  if (sharperIn === 'same') return '';
  return sharperIn === 'length'
    ? 'Sharper along the strand, as from something that rolls on it.'
    : 'Sharper in time, as from something that turns or switches at its own pace.';
}
