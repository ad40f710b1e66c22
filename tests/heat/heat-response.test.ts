import { describe, expect, test } from 'vitest';
import { HeatResponse } from '../../server/heat/heat-response.ts';

/** Feeds a zone of `rate` K/s, whose reading shows `share` of what its power brings; losses are left out. */
function feed(response: HeatResponse, seconds: number, power: number, share: number, fromC = 0, rate = 1): number {
  let temperatureC = fromC;
  for (let s = 0; s < seconds; s++) {
    temperatureC += share * rate * power;
    response.add(power, rate * power, temperatureC, rate);
  }
  return temperatureC;
}

describe('how much of the heat shows', () => {
  test('is measured over 25 to 60 s, shorter where the zone is fast', () => {
    const windowOf = (rate: number) => {
      const response = new HeatResponse();
      feed(response, 1, 1, 1, 0, rate);
      return response.windowS;
    };
    expect(windowOf(1.5)).toBe(25);
    expect(windowOf(0.5)).toBe(40);
    expect(windowOf(0.1)).toBe(60);
  });

  test.each([0, 0.4, 0.5, 0.8, 1, 1.1])('is the share %f', (share) => {
    const response = new HeatResponse();
    feed(response, 26, 0.6, share);
    expect(response.share).toBeCloseTo(share, 9);
  });

  test('is not known before a whole window, nor at little power', () => {
    const response = new HeatResponse();
    const c = feed(response, 25, 1, 1);
    expect(response.share).toBeNaN();
    feed(response, 1, 1, 1, c);
    expect(response.share).toBeCloseTo(1, 9);
    const little = new HeatResponse();
    feed(little, 60, 0.24, 1);
    expect(little.share).toBeNaN();
    expect(little.isPlausible).toBe(false);
  });

  test('follows a change once the window has passed, also after minutes', () => {
    const response = new HeatResponse();
    const c = feed(response, 300, 1, 1);
    feed(response, 25, 1, 0.5, c);
    expect(response.share).toBeCloseTo(0.5, 9);
  });

  test('a missing value starts it again', () => {
    const response = new HeatResponse();
    feed(response, 60, 1, 1);
    response.add(Number.NaN, 1, 100, 1);
    feed(response, 25, 1, 1);
    expect(response.share).toBeNaN();
    response.reset();
    expect(response.share).toBeNaN();
  });
});

describe('a reading is plausible again', () => {
  const plausibleWith = (power: number, share: number) => {
    const response = new HeatResponse();
    const c = feed(response, 60, 1, 0.5);
    feed(response, 40, power, share, c);
    return response.isPlausible;
  };

  test('once three quarters of the heat show', () => {
    expect(plausibleWith(1, 0.76)).toBe(true);
    expect(plausibleWith(1, 0.74)).toBe(false);
  });

  test('but not while the power falls, because a late reading shows heat of before', () => {
    const response = new HeatResponse();
    const c = feed(response, 60, 1, 0.5);
    const later = feed(response, 26, 0.6, 0.9, c);
    expect(response.share).toBeCloseTo(0.9, 1);
    expect(response.isPlausible).toBe(false);
    feed(response, 40, 0.6, 0.9, later);
    expect(response.isPlausible).toBe(true);
  });

  test('a share is steady once it has not changed for half a window', () => {
    const response = new HeatResponse();
    const c = feed(response, 60, 1, 1);
    const later = feed(response, 20, 1, 0.5, c);
    expect(response.isSteady).toBe(false);
    feed(response, 20, 1, 0.5, later);
    expect(response.isSteady).toBe(true);
  });
});
