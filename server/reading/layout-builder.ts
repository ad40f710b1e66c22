import { COUNTER_MODULUS, isRole, type MeasuredRole, type Role, unitOf, ZONES } from './names.ts';
import type { Layout, Signal, ZoneColumns } from './reading.ts';
import { quantityOf } from './units.ts';

/** A name on the cable, mapped to a role: value = raw × factor + offset. */
export interface RoleMapping {
  readonly name: string;
  readonly role: string;
  readonly factor: number;
  readonly offset: number;
}

/** Where the fields of a line form go: one entry per field, in the order of the line. */
export interface Binding {
  /** Column of the layout; -1 = bookkeeping. */
  readonly columns: Int32Array;
  readonly factors: Float64Array;
  readonly offsets: Float64Array;
  /** Beyond these the whole line is garbled. */
  readonly lowest: Float64Array;
  readonly highest: Float64Array;
  /** A greater amount, in the unit of the role, is no value: the rest of the line is still good. */
  readonly largest: Float64Array;
  /** Fields of the device clock and of the line number; -1 = none. */
  readonly uptimeField: number;
  readonly numberField: number;
  /** ms per count of the clock field. */
  readonly uptimeFactor: number;
  /** Names of the fields, and the units printed behind their values. */
  readonly names: readonly string[];
  readonly units: readonly string[];
  /** See `LayoutBuilder.isCurrent`. */
  readonly generation: number;
}

/** No sensor sends more than this, and no counter of a device reaches it: a larger number is a garbled one. */
const VALUE_MAX = 1e15;
/** Heater power is 0…1, and a controller may be a little inexact. More is garbled, or in another unit that was not stated. */
const POWER_MAX = 1.05;

/** More signals than this can only come from garbage. */
const SIGNALS_MAX = 128;
/** A signal without a role that was not sent for so long makes room for a new one. */
const KEPT_MS = 86_400_000;
const USE_NOTED_EVERY_MS = 60_000;

/**
 * Builds the layout name by name. A signal keeps its column; new ones are appended. Only when there is no more room do they
 * take the columns of signals that have not come for a day.
 */
export class LayoutBuilder {
  readonly #mappings: ReadonlyMap<string, RoleMapping & { role: Role }>;
  readonly #mappedRoles: ReadonlySet<Role>;
  readonly #signals: Signal[] = [];
  readonly #columnOfName = new Map<string, number>();
  readonly #columnOfRole = new Map<MeasuredRole, number>();
  /** When each column was last sent, UTC ms. */
  readonly #usedMs: number[] = [];
  readonly #free: number[] = [];
  readonly #forgot: (names: readonly string[]) => void;
  #generation = 0;
  #usedLast: Binding | null = null;
  #usedLastMs = Number.NEGATIVE_INFINITY;
  #sendsDiameter = false;
  #layout = makeLayout([], new Map());

  /** @param forgot called with the names of the signals that made room */
  constructor(mappings: readonly RoleMapping[], forgot: (names: readonly string[]) => void = () => {}) {
    this.#forgot = forgot;
    const byName = new Map<string, RoleMapping & { role: Role }>();
    const mappedRoles = new Set<Role>();
    for (const mapping of mappings) {
      const { role } = mapping;
      if (!isRole(role)) throw new TypeError(`“${role}” is not a role of the reading-line contract`);
      if (byName.has(mapping.name) || mappedRoles.has(role)) continue;
      byName.set(mapping.name, { ...mapping, role });
      mappedRoles.add(role);
    }
    this.#mappings = byName;
    this.#mappedRoles = mappedRoles;
  }

  get layout(): Layout {
    return this.#layout;
  }

  /** Whether the diameter is the mean of two axes, because no line sends it. */
  get derivesDiameter(): boolean {
    return !this.#sendsDiameter && this.#columnOfRole.has('dx') && this.#columnOfRole.has('dy');
  }

  /** Whether a name is a role of the contract, or mapped to one by the settings. */
  isKnown(name: string): boolean {
    return isRole(name) || this.#mappings.has(name);
  }

  /** Whether the settings say what the name means. */
  isMapped(name: string): boolean {
    return this.#mappings.has(name);
  }

  /** Whether the binding still holds; if not, one of its columns may belong to another signal. */
  isCurrent(binding: Binding): boolean {
    return binding.generation === this.#generation;
  }

  /** The fields of a binding were sent. */
  used(binding: Binding, nowMs: number): void {
    if (binding === this.#usedLast && nowMs - this.#usedLastMs < USE_NOTED_EVERY_MS) return;
    this.#usedLast = binding;
    this.#usedLastMs = nowMs;
    for (const column of binding.columns) if (column >= 0) this.#usedMs[column] = nowMs;
  }

  /**
   * Assign a column to each name.
   * @param nowMs UTC ms; NaN = recorded, where no signal makes room
   * @param units printed after the values, for signals without a role; empty or '' = none
   * @param mappedOnly a standard name alone means nothing, because its unit is not known
   * @returns null = too many signals
   */
  bind(
    names: readonly string[],
    units: readonly string[] = [],
    mappedOnly = false,
    nowMs = Number.NaN,
  ): Binding | null {
    const fields = names.map((name, i) => ({ ...this.#fieldOf(name, mappedOnly), unit: units[i] ?? '' }));
    const added = fields.filter(({ role, title }) => !isBookkeeping(role) && !this.#columnOfName.has(title)).length;
    const room = Math.max(0, SIGNALS_MAX - 1 - this.#signals.length);
    if (added > room && !this.#makeRoom(added - room, new Set(fields.map(({ title }) => title)), nowMs)) return null;
    const columns = Int32Array.from(fields, ({ role, title, unit }) =>
      isBookkeeping(role) ? -1 : this.#column(title, role, unit, nowMs),
    );
    const ranges = fields.map(({ role }) => (role === null ? ANY_NUMBER : plausibleRange(role)));
    const roles = fields.map(({ role }) => role);
    if (roles.includes('d')) this.#sendsDiameter = true;
    if (this.derivesDiameter) this.#column('d', 'd', '', nowMs);
    const uptimeField = roles.includes('us') ? roles.indexOf('us') : roles.indexOf('ms');
    const clockFactor = fields[uptimeField]?.factor ?? 1;
    const unitMs = roles[uptimeField] === 'us' ? 0.001 : 1;
    this.#layout = makeLayout(this.#signals, this.#columnOfRole);
    return {
      columns,
      factors: Float64Array.from(fields, ({ factor }) => factor),
      offsets: Float64Array.from(fields, ({ offset }) => offset),
      lowest: Float64Array.from(ranges, ([least]) => least),
      highest: Float64Array.from(ranges, ([, most]) => most),
      largest: Float64Array.from(roles, (role) =>
        role !== null && quantityOf(role) === 'power' ? POWER_MAX : VALUE_MAX,
      ),
      uptimeField,
      numberField: roles.indexOf('n'),
      uptimeFactor: clockFactor * unitMs,
      names,
      units,
      generation: this.#generation,
    };
  }

  /** A name's role and calibration, and the title of its signal. */
  #fieldOf(name: string, mappedOnly: boolean): { role: Role | null; title: string; factor: number; offset: number } {
    const mapping = this.#mappings.get(name);
    if (mapping !== undefined) return { ...mapping, title: mapping.role };
    const role = isRole(name) && !mappedOnly && !this.#mappedRoles.has(name) ? name : null;
    // A name of the contract that does not have its role here needs another title.
    const title = role === null && isRole(name) ? `${name} as sent` : name;
    return { role, title, factor: 1, offset: 0 };
  }

  /** @returns false = fewer signals than needed have not come for a day */
  #makeRoom(needed: number, kept: ReadonlySet<string>, nowMs: number): boolean {
    const unused = [...this.#columnOfName]
      .filter(([name, column]) => !kept.has(name) && this.#signals[column]!.role === null)
      .filter(([, column]) => nowMs - this.#usedMs[column]! >= KEPT_MS)
      .sort(([, a], [, b]) => this.#usedMs[a]! - this.#usedMs[b]!)
      .slice(0, needed);
    if (unused.length < needed) return false;
    for (const [name, column] of unused) {
      this.#columnOfName.delete(name);
      this.#free.push(column);
    }
    this.#generation++;
    this.#forgot(unused.map(([name]) => name));
    return true;
  }

  #column(title: string, role: MeasuredRole | null, unit: string, nowMs: number): number {
    const known = this.#columnOfName.get(title);
    if (known !== undefined) return known;
    const column = this.#free.pop() ?? this.#signals.length;
    this.#signals[column] = { name: title, role, unit: role === null ? unit : unitOf(role) };
    this.#usedMs[column] = nowMs;
    this.#columnOfName.set(title, column);
    if (role !== null) this.#columnOfRole.set(role, column);
    return column;
  }
}

function isBookkeeping(role: Role | null): role is 'ms' | 'us' | 'n' {
  return role === 'ms' || role === 'us' || role === 'n';
}

function makeLayout(signals: readonly Signal[], columns: ReadonlyMap<MeasuredRole, number>): Layout {
  const column = (role: MeasuredRole) => columns.get(role) ?? -1;
  const zones: ZoneColumns[] = [];
  for (const zone of ZONES) {
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
    signals: [...signals],
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

type Range = readonly [lowest: number, highest: number];

const ANY_NUMBER: Range = [Number.NEGATIVE_INFINITY, Number.POSITIVE_INFINITY];

/**
 * Range of the values that a line may carry for a role, in the role's unit. It is far wider than any extruder's, because
 * a raw count that is not mapped yet should be visible. Only values made of two joined numbers are outside it.
 * Common practice, no source.
 */
function plausibleRange(role: Role): Range {
  switch (role) {
    case 'ms':
    case 'us':
    case 'n':
      // Many sketches count in a signed or a wider number, which is below 0 or above 32 bits after weeks.
      return [-COUNTER_MODULUS / 2, Number.MAX_SAFE_INTEGER];
    case 'len':
    case 'turns':
      return [-COUNTER_MODULUS, COUNTER_MODULUS];
    case 'rpm':
    case 'amp':
    case 'bar':
      return [-1e6, 1e6];
    default:
      if (role.startsWith('f')) return [0, 65_535];
      return /^(?:t|s)/.test(role) ? [-300, 1e5] : [-1e5, 1e5];
  }
}
