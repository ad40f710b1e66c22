import { expect, test } from 'vitest';
import { doingOf } from '../../server/heat/zone-status.ts';

const ZONE = {
  temperatureC: 195,
  setpointC: 195,
  power: 0.3,
  inBand: false,
  slopeKPerS: 0,
  slowSlopeKPerS: 0,
  setpointIsNew: false,
};
const doing = (over: Partial<typeof ZONE>) => doingOf({ ...ZONE, ...over });
const ABOVE = { temperatureC: 211, power: 0 };
const BELOW = { temperatureC: 120 };

test('a zone above its set-point cools only if its reading falls', () => {
  expect(doing(ABOVE)).toBe('away');
  expect(doing({ ...ABOVE, slowSlopeKPerS: 0.1 })).toBe('away');
  expect(doing({ ...ABOVE, slowSlopeKPerS: Number.NaN })).toBe('away');
  expect(doing({ ...ABOVE, slowSlopeKPerS: -0.014 })).toBe('away');
  expect(doing({ ...ABOVE, slowSlopeKPerS: -0.045 })).toBe('cooling');
  expect(doing({ ...ABOVE, setpointIsNew: true })).toBe('cooling');
});

test('a zone below its set-point heats if it has power, or rises', () => {
  expect(doing(BELOW)).toBe('heating');
  expect(doing({ ...BELOW, power: 0.02 })).toBe('away');
  expect(doing({ ...BELOW, power: 0, slopeKPerS: 0.06 })).toBe('heating');
  expect(doing({ ...BELOW, power: Number.NaN })).toBe('heating');
});

test('within its band it holds, and without a reading nothing is known', () => {
  expect(doing({ inBand: true })).toBe('holding');
  expect(doing({ temperatureC: Number.NaN })).toBe('unknown');
});

test('without a set-point, power and slope decide', () => {
  const none = { setpointC: Number.NaN };
  expect(doing({ ...none, power: 0 })).toBe('cooling');
  expect(doing({ ...none, power: 0, temperatureC: 30 })).toBe('off');
  expect(doing({ ...none, slopeKPerS: 0.06 })).toBe('heating');
  expect(doing({ ...none, slopeKPerS: -0.06 })).toBe('cooling');
  expect(doing(none)).toBe('holding');
  expect(doing({ ...none, power: Number.NaN })).toBe('holding');
  expect(doing({ ...none, power: Number.NaN, temperatureC: 30 })).toBe('off');
  expect(doing({ ...none, power: Number.NaN, slopeKPerS: Number.NaN })).toBe('unknown');
  expect(doing({ setpointC: 0, power: 0.5, temperatureC: 30 })).toBe('off');
});
