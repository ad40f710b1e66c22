import { COUNTER_MODULUS, isRole, type MeasuredRole, type Role, unitOf } from './names.ts';
import { plausibleRange } from './plausible-range.ts';
import type { Channel, Layout, ZoneColumns } from './reading.ts';

/** A name on the cable, mapped to a role: value = raw × factor + offset. */
export interface RoleMapping {
  readonly name: string;
  readonly role: string;
  readonly factor: number;
  readonly offset: number;
}

/** Where the fields of a line form go: one entry a field, in the order of the line. */
export interface Binding {
  /** Column of the layout; -1 = bookkeeping. */
  readonly columns: Int32Array;
  readonly factors: Float64Array;
  readonly offsets: Float64Array;
  readonly lowest: Float64Array;
  readonly highest: Float64Array;
  /** Fields of the device clock and of the line number; -1 = none. */
  readonly uptimeField: number;
  readonly numberField: number;
  /** ms a unit of the clock field, and where its counter wraps, in ms (Infinity: a mapped clock, whose wrap is unknown). */
  readonly uptimeFactor: number;
  readonly uptimeModulusMs: number;
  /** The diameter is the mean of two axes. */
  readonly derivesDiameter: boolean;
}

/** More channels than this come only from garbage. */
const CHANNELS_MAX = 128;

/** Builds the layout name by name. An old channel keeps its column for ever; only new ones are appended. */
export class LayoutBuilder {
  readonly #mappings: ReadonlyMap<string, RoleMapping & { role: Role }>;
  readonly #claimed: ReadonlySet<Role>;
  readonly #channels: Channel[] = [];
  readonly #columnOfName = new Map<string, number>();
  readonly #columnOfRole = new Map<MeasuredRole, number>();
  #layout: Layout | null = null;

  constructor(mappings: readonly RoleMapping[]) {
    const byName = new Map<string, RoleMapping & { role: Role }>();
    const claimed = new Set<Role>();
    for (const mapping of mappings) {
      const { role } = mapping;
      if (!isRole(role)) throw new TypeError(`“${role}” is no role of the reading-line contract`);
      if (byName.has(mapping.name) || claimed.has(role)) continue;
      byName.set(mapping.name, { ...mapping, role });
      claimed.add(role);
    }
    this.#mappings = byName;
    this.#claimed = claimed;
  }

  get layout(): Layout | null {
    return this.#layout;
  }

  /** Whether a name means something: a role of the contract, or a name that the settings map. */
  isKnown(name: string): boolean {
    return isRole(name) || this.#mappings.has(name);
  }

  /** @returns null = too many channels */
  bind(names: readonly string[]): Binding | null {
    const roles = names.map((name) => this.#roleOf(name));
    const fresh = names.filter((name, i) => !isBookkeeping(roles[i]!) && !this.#columnOfName.has(this.#title(name)));
    if (this.#channels.length + fresh.length + 1 > CHANNELS_MAX) return null;
    const binding = {
      columns: new Int32Array(names.length).fill(-1),
      factors: new Float64Array(names.length).fill(1),
      offsets: new Float64Array(names.length),
      lowest: new Float64Array(names.length).fill(Number.NEGATIVE_INFINITY),
      highest: new Float64Array(names.length).fill(Number.POSITIVE_INFINITY),
      uptimeField: roles.indexOf('us') >= 0 ? roles.indexOf('us') : roles.indexOf('ms'),
      numberField: roles.indexOf('n'),
      uptimeFactor: 1,
      uptimeModulusMs: COUNTER_MODULUS,
      derivesDiameter: false,
    };
    names.forEach((name, i) => {
      const mapping = this.#mappings.get(name);
      binding.factors[i] = mapping?.factor ?? 1;
      binding.offsets[i] = mapping?.offset ?? 0;
      const role = roles[i]!;
      if (!isBookkeeping(role)) binding.columns[i] = this.#column(this.#title(name), role);
      if (role !== null) [binding.lowest[i], binding.highest[i]] = plausibleRange(role);
    });
    const has = (role: Role) => roles.includes(role);
    binding.derivesDiameter = has('dx') && has('dy') && !has('d');
    if (binding.derivesDiameter) this.#column('d', 'd');
    const { uptimeField } = binding;
    if (uptimeField >= 0) {
      const unitMs = roles[uptimeField] === 'us' ? 0.001 : 1;
      const factor = binding.factors[uptimeField]!;
      binding.uptimeFactor = factor * unitMs;
      binding.uptimeModulusMs = factor === 1 ? COUNTER_MODULUS * unitMs : Number.POSITIVE_INFINITY;
      if (factor !== 1) binding.highest[uptimeField] = Number.MAX_SAFE_INTEGER;
    }
    this.#layout = makeLayout(this.#channels, this.#columnOfRole);
    return binding;
  }

  #roleOf(name: string): Role | null {
    const mapped = this.#mappings.get(name);
    if (mapped !== undefined) return mapped.role;
    return isRole(name) && !this.#claimed.has(name) ? name : null;
  }

  /** Name of the channel: the role's, or the name on the cable, set apart where a mapping has taken that. */
  #title(name: string): string {
    const role = this.#roleOf(name);
    if (role !== null) return role;
    return isRole(name) ? `${name} as sent` : name;
  }

  #column(title: string, role: MeasuredRole | null): number {
    const known = this.#columnOfName.get(title);
    if (known !== undefined) return known;
    const column = this.#channels.length;
    this.#channels.push({
      name: title,
      role,
      unit: role === null ? '' : unitOf(role),
    });
    this.#columnOfName.set(title, column);
    if (role !== null) this.#columnOfRole.set(role, column);
    return column;
  }
}

function isBookkeeping(role: Role | null): role is 'ms' | 'us' | 'n' {
  return role === 'ms' || role === 'us' || role === 'n';
}

function makeLayout(channels: readonly Channel[], columns: ReadonlyMap<MeasuredRole, number>): Layout {
  const column = (role: MeasuredRole) => columns.get(role) ?? -1;
  const zones: ZoneColumns[] = [];
  for (const zone of [1, 2, 3, 4, 5, 6, 7, 8] as const) {
    const found = {
      zone,
      temperature: column(`t${zone}`),
      setpoint: column(`s${zone}`),
      power: column(`p${zone}`),
      fault: column(`f${zone}`),
    };
    if (Math.max(found.temperature, found.setpoint, found.power, found.fault) >= 0) zones.push(found);
  }
  return {
    channels: [...channels],
    diameter: column('d'),
    diameterX: column('dx'),
    diameterY: column('dy'),
    speed: column('v'),
    lengthCounter: column('len'),
    screwSpeed: column('rpm'),
    turns: column('turns'),
    zones,
  };
}
