/** Numbers as they appear in alarm sentences, always with their unit. */

export function metres(lengthMm: number): string {
  return `${(lengthMm / 1000).toFixed(2)} m`;
}

export function millimetres(diameterMm: number): string {
  return `${diameterMm.toFixed(2)} mm`;
}

export function celsius(temperatureC: number): string {
  return `${Math.round(temperatureC)} °C`;
}

export function percent(share: number): string {
  return `${Math.round(share * 100)} %`;
}

/** "14 s", "3 min", "2 h 5 min". */
export function duration(seconds: number): string {
  const s = Math.max(0, Math.round(seconds));
  if (s < 120) return `${s} s`;
  const min = Math.floor(s / 60);
  if (min < 120) return `${min} min`;
  return `${Math.floor(min / 60)} h ${min % 60} min`;
}
