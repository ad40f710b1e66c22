/**
 * The microcontroller that measures the line and prints reading lines. A restart sets its clock, line number, length and
 * turns to zero, while the extrusion line continues.
 */

import { COUNTER_MODULUS, type Role } from '../../server/reading/names.ts';
import type { Line } from '../model/line.ts';
import type { Random } from '../model/random.ts';
import { STRAND_STEPS_PER_SLOW_STEP } from '../model/steps.ts';
import { type FormatField, LineFormat, type LineShape } from './line-format.ts';
import { oneDecimal, threeDecimals, twoDecimals } from './numbers.ts';

const BANNER = [
  '# simulated line gauge, firmware 1.0',
  '# fault bits: 1 open circuit, 2 short to ground, 4 short to supply',
];
const AMP_NOISE = 0.03;
const BAR_NOISE = 0.3;

/** The names that the new sketch of a device uses, by the letters of a role. */
const NEW_NAMES: Readonly<Record<string, string>> = {
  d: 'width',
  dx: 'width_a',
  dy: 'width_b',
  v: 'pull',
  len: 'travel',
  rpm: 'screw',
  t: 'melt',
  s: 'wanted',
  p: 'duty',
  f: 'error',
};

/** Clock and line number keep their names. */
function newName(role: Role): string {
  const [, letters = role, zone = ''] = /^([a-z]+)(\d*)$/.exec(role) ?? [];
  return `${NEW_NAMES[letters] ?? letters}${zone}`;
}

/** The fields that a device prints by default. */
export function defaultFields(zoneCount: number, axes: 1 | 2): Role[] {
  const zones = Array.from({ length: zoneCount }, (_, i) => i + 1);
  return [
    'ms',
    'n',
    ...(axes === 2 ? (['dx', 'dy'] as const) : (['d'] as const)),
    ...zones.flatMap((z) => [`t${z}`, `s${z}`, `p${z}`] as Role[]),
    ...zones.map((z) => `f${z}` as Role),
    'v',
    'len',
    'rpm',
  ];
}

export interface DeviceOptions {
  readonly shape: LineShape;
  readonly checksum: boolean;
  readonly fields: readonly Role[];
  readonly lineEnd: '\n' | '\r\n';
  /** Clock and line number at the start. */
  readonly startMs: number;
  readonly startN: number;
  /** How fast the device's clock is, parts per million. */
  readonly clockErrorPpm: number;
}

export class Device {
  readonly #line: Line;
  readonly #random: Random;
  #format: LineFormat;
  readonly #options: DeviceOptions;
  readonly #lineEnd: string;
  readonly #clockRate: number;
  #bootS = 0;
  #startMs: number;
  #n: number;
  #countedOffsetMm = 0;
  #turnsOffset = 0;
  #bootsUntilS: number | null = null;
  #partial = '';
  #bannerDue: boolean;

  constructor(line: Line, options: DeviceOptions, random: Random) {
    this.#line = line;
    this.#random = random;
    this.#lineEnd = options.lineEnd;
    this.#clockRate = 1000 * (1 + options.clockErrorPpm / 1e6);
    this.#startMs = options.startMs;
    this.#n = options.startN;
    this.#bannerDue = options.startMs === 0;
    this.#options = options;
    this.#format = this.#formatWith((role) => role);
  }

  #formatWith(nameOf: (role: Role) => string): LineFormat {
    const { shape, checksum, fields } = this.#options;
    return new LineFormat(
      shape,
      checksum,
      fields.map((role) => ({ ...this.#field(role), name: nameOf(role) })),
    );
  }

  /** The header line with its line end, for readers that connect late; null = the shape has none. */
  get header(): string | null {
    return this.#format.header === null ? null : this.#format.header + this.#lineEnd;
  }

  /** Restart: the current line is cut off, nothing is sent for the boot time, and the next text follows the cut directly. */
  restart(bootS: number): void {
    const cut = this.#print();
    this.#partial += cut.slice(0, 1 + this.#random.index(cut.length - 2));
    this.#bootsUntilS = this.#line.timeS + bootS;
  }

  /** A new sketch is loaded: a restart, after which the fields have other names. */
  loadSketch(bootS: number): void {
    this.restart(bootS);
    this.#format = this.#formatWith(newName);
  }

  /** The text sent at this sample: usually one line with its line end, sometimes more, nothing while booting. */
  sample(): string {
    if (this.#bootsUntilS !== null) {
      if (this.#line.timeS < this.#bootsUntilS) return this.#takePartial();
      this.#finishBoot();
    }
    let text = this.#takePartial();
    if (this.#bannerDue) {
      this.#bannerDue = false;
      for (const note of BANNER) text += note + this.#lineEnd;
      text += this.header ?? '';
    }
    this.#line.gauge.read();
    text += this.#print();
    this.#n = (this.#n + 1) % COUNTER_MODULUS;
    return text;
  }

  #finishBoot(): void {
    this.#bootsUntilS = null;
    this.#bootS = this.#line.timeS;
    this.#startMs = 0;
    this.#n = 0;
    this.#countedOffsetMm = this.#line.puller.countedMm;
    this.#turnsOffset = this.#line.winder.turns;
    // The start-up note is often lost; then the first reading follows the cut line directly.
    this.#bannerDue = this.#format.header !== null || this.#random.chance(0.5);
    this.#line.gauge.read();
  }

  #takePartial(): string {
    const text = this.#partial;
    this.#partial = '';
    return text;
  }

  #print(): string {
    const slowStep = Math.floor((this.#line.steps - 1) / STRAND_STEPS_PER_SLOW_STEP);
    return this.#format.line(slowStep) + this.#lineEnd;
  }

  #field(role: Role): Omit<FormatField, 'name'> {
    const line = this.#line;
    const fast = (text: () => string) => ({ text, slow: false });
    const slow = (text: () => string) => ({ text, slow: true });
    // The small addition keeps a product that should be a whole number from being rounded down.
    const uptime = (perS: number) => Math.floor((line.timeS - this.#bootS) * perS + 1e-6);
    switch (role) {
      case 'ms':
        return fast(() => String((this.#startMs + uptime(this.#clockRate)) % COUNTER_MODULUS));
      case 'us':
        return fast(() => String((this.#startMs * 1000 + uptime(this.#clockRate * 1000)) % COUNTER_MODULUS));
      case 'n':
        return fast(() => String(this.#n));
      case 'd':
        return fast(() => threeDecimals(line.gauge.meanMm));
      case 'dx':
        return fast(() => threeDecimals(line.gauge.xMm));
      case 'dy':
        return fast(() => threeDecimals(line.gauge.yMm));
      case 'v':
        return fast(() => oneDecimal(line.puller.rollerMmPerS));
      case 'len':
        return fast(() => oneDecimal((line.puller.countedMm - this.#countedOffsetMm) % COUNTER_MODULUS));
      case 'rpm':
        return slow(() => oneDecimal(line.feed.rpm));
      case 'amp':
        return slow(() => {
          const load = line.feed.rpm > 0 ? 0.9 + 0.02 * line.melt.pressureBar : 0;
          return twoDecimals(Math.max(0, load + (load > 0 ? AMP_NOISE * this.#random.gaussian() : 0)));
        });
      case 'bar':
        return slow(() => oneDecimal(Math.max(0, line.melt.pressureBar + BAR_NOISE * this.#random.gaussian())));
      case 'turns':
        return fast(() => String(Math.max(0, Math.floor(line.winder.turns - this.#turnsOffset))));
      case 'ta':
        return slow(() => oneDecimal(line.plant.roomC));
      case 'rh':
        return slow(() => oneDecimal(line.plant.roomHumidityPercent));
      default:
        return slow(this.#zoneText(role));
    }
  }

  #zoneText(role: Role): () => string {
    const zone = this.#line.barrel.zones[Number(role.slice(1)) - 1];
    // The line does not have this zone, so it never has a value.
    if (zone === undefined) return () => 'null';
    switch (role[0]) {
      case 't':
        return () => oneDecimal(zone.sensor.readingC);
      case 's':
        return () => String(zone.controller.setPointC);
      case 'p':
        return () => twoDecimals(zone.power);
      default:
        return () => String(zone.sensor.faultBits);
    }
  }
}
