import type { RelatedReadingsView } from '../../server/api/contract/runs-and-spools.ts';

const SIGNALS: Readonly<Record<string, string>> = {
  v: 'the speed of the strand',
  rpm: 'the speed of the screw',
  amp: 'the motor current of the screw',
  bar: 'the melt pressure',
  ta: 'the temperature of the room',
  rh: 'the humidity of the room',
};

/** "t3" is "the temperature of zone 3"; a free signal keeps the name that the line sends. */
function signalText(name: string): string {
  const zone = /^([tsp])([1-8])$/.exec(name);
  if (zone === null) return SIGNALS[name] ?? `“${name}”`;
  const what = { t: 'temperature', s: 'set-point', p: 'power' }[zone[1] as 't' | 's' | 'p'];
  return `the ${what} of zone ${zone[2]}`;
}

/** "The strand was thicker when the temperature of zone 3 was lower." */
export function relatedText({ signal, strand, correlation }: RelatedReadingsView['found'][number]): string {
  const level = correlation > 0 ? 'higher' : 'lower';
  return strand === 'diameter'
    ? `The strand was thicker when ${signalText(signal)} was ${level}.`
    : `There were more bad stretches when ${signalText(signal)} was ${level}.`;
}
