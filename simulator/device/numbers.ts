/** Numbers with a fixed count of decimals, as a small device prints them. Much faster than `toFixed`. */

const TWO_DIGITS = Array.from({ length: 100 }, (_, i) => String(i).padStart(2, '0'));
const THREE_DIGITS = Array.from({ length: 1000 }, (_, i) => String(i).padStart(3, '0'));

export function oneDecimal(value: number): string {
  const scaled = Math.round(Math.abs(value) * 10);
  const whole = Math.floor(scaled / 10);
  const text = `${whole}.${scaled - whole * 10}`;
  return value < 0 && scaled > 0 ? `-${text}` : text;
}

export function twoDecimals(value: number): string {
  const scaled = Math.round(Math.abs(value) * 100);
  const whole = Math.floor(scaled / 100);
  const text = `${whole}.${TWO_DIGITS[scaled - whole * 100]}`;
  return value < 0 && scaled > 0 ? `-${text}` : text;
}

export function threeDecimals(value: number): string {
  const scaled = Math.round(Math.abs(value) * 1000);
  const whole = Math.floor(scaled / 1000);
  const text = `${whole}.${THREE_DIGITS[scaled - whole * 1000]}`;
  return value < 0 && scaled > 0 ? `-${text}` : text;
}
