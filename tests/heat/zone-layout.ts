import type { Layout } from '../../server/reading/reading.ts';

/** Signals of a zone: temperature, set-point, power, fault bits. */
type ZoneSignal = 't' | 's' | 'p' | 'f';

/** Layout of a line that sends the same signals of each zone, zone by zone, and nothing else. */
export function zoneLayout(zoneCount: number, letters: readonly ZoneSignal[] = ['t', 's', 'p', 'f']): Layout {
  const numbers = Array.from({ length: zoneCount }, (_, i) => i + 1);
  const names = numbers.flatMap((zone) => letters.map((letter) => `${letter}${zone}` as 't1'));
  const at = (letter: ZoneSignal, zone: number) => names.indexOf(`${letter}${zone}` as 't1');
  return {
    signals: names.map((name) => ({ name, role: name, unit: /^[ts]/.test(name) ? '°C' : '' })),
    zones: numbers.map((zone) => ({
      zone,
      temperature: at('t', zone),
      setpoint: at('s', zone),
      power: at('p', zone),
      fault: at('f', zone),
    })),
    diameter: -1,
    diameterX: -1,
    diameterY: -1,
    speed: -1,
    lengthCounter: -1,
    screwSpeed: -1,
    turns: -1,
  };
}
