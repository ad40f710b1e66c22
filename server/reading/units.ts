import { isRole, type Role } from './names.ts';

/** What a role measures; roles of one quantity share their units. */
export type Quantity = 'diameter' | 'temperature' | 'power' | 'speed' | 'length' | 'clock';

/** A unit that sketches print: value in the role's own unit = value × factor + offset. */
export interface Unit {
  readonly code: string;
  /** As people write it. */
  readonly label: string;
  readonly factor: number;
  readonly offset: number;
}

const unit = (code: string, label: string, factor: number, offset = 0): Unit => ({ code, label, factor, offset });

/** Turns of the puller's wheel, 1/min: the factor of the mapping is the diameter of the wheel, mm. */
export const WHEEL_TURNS = 'rpm';

/** For each quantity, the role's own unit first. Factors are exact by definition: 1 in = 25.4 mm, 0 °C = 273.15 K. */
const UNITS: Readonly<Record<Quantity, readonly Unit[]>> = {
  diameter: [
    unit('mm', 'mm', 1),
    unit('in', 'inch', 25.4),
    unit('mil', '0.001 inch', 0.0254),
    unit('um', 'µm', 0.001),
    unit('0.01mm', '0.01 mm', 0.01),
  ],
  temperature: [
    unit('C', '°C', 1),
    unit('F', '°F', 5 / 9, -160 / 9),
    unit('K', 'K', 1, -273.15),
    unit('0.1C', '0.1 °C', 0.1),
    unit('0.01C', '0.01 °C', 0.01),
  ],
  power: [
    unit('share', '0…1', 1),
    unit('%', '%', 0.01),
    unit('of255', '0…255', 1 / 255),
    unit('of127', '0…127', 1 / 127),
    unit('of1023', '0…1023', 1 / 1023),
    unit('of4095', '0…4095', 1 / 4095),
  ],
  speed: [
    unit('mm/s', 'mm/s', 1),
    unit('m/min', 'm/min', 1000 / 60),
    unit('mm/min', 'mm/min', 1 / 60),
    unit('cm/s', 'cm/s', 10),
    unit('m/s', 'm/s', 1000),
    unit('in/min', 'inch/min', 25.4 / 60),
    unit('in/s', 'inch/s', 25.4),
    unit('ft/min', 'ft/min', 304.8 / 60),
    unit(WHEEL_TURNS, 'turns/min', Math.PI / 60),
  ],
  length: [unit('mm', 'mm', 1), unit('m', 'm', 1000), unit('cm', 'cm', 10), unit('in', 'inch', 25.4)],
  clock: [unit('ms', 'ms', 1), unit('s', 's', 1000)],
};

/** null = the role has one unit only. */
export function quantityOf(role: Role): Quantity | null {
  if (role === 'd' || role === 'dx' || role === 'dy') return 'diameter';
  if (role === 'v') return 'speed';
  if (role === 'len') return 'length';
  if (role === 'ms') return 'clock';
  if (role === 'ta' || /^[ts]\d$/.test(role)) return 'temperature';
  return /^p\d$/.test(role) ? 'power' : null;
}

/** The units that a value of this quantity may be sent in. */
export function unitsOf(quantity: Quantity): readonly Unit[] {
  return UNITS[quantity];
}

/** null = a value of this role is never sent in this unit. */
export function unitFor(role: Role, code: string): Unit | null {
  const quantity = quantityOf(role);
  return quantity === null ? null : (UNITS[quantity].find((one) => one.code === code) ?? null);
}

/** What a user says of a raw value: (raw × factor + offset) in `unit`; without a unit, in that of the role. */
export interface Conversion {
  readonly role: string;
  readonly factor: number;
  readonly offset: number;
  readonly unit?: string;
}

/** The factor and offset that turn a raw value into the unit of its role. */
export function inRoleUnit({ role, factor, offset, unit }: Conversion): {
  readonly factor: number;
  readonly offset: number;
} {
  const conversion = unit !== undefined && isRole(role) ? unitFor(role, unit) : null;
  if (conversion === null) return { factor, offset };
  return { factor: factor * conversion.factor, offset: offset * conversion.factor + conversion.offset };
}
