import { Counter, Gauge, type OpenMetricsContentType, Registry } from 'prom-client';
import { ALARM_TYPES, type AlarmType, PRIORITIES, type Priority } from '../alarm/alarm.ts';
import { awaitsAcknowledgement, isActive } from '../alarm/life-cycle.ts';
import { DROP_CAUSES } from '../reading/link-counters.ts';
import { STAGES } from '../stage/stage.ts';
import type { WeightedMoments } from '../strand/statistics/weighted-moments.ts';
import { VERSION } from '../version.ts';
import type { LiveState } from './contract/live-state.ts';

/** What one answer reports. */
export interface MetricsFacts {
  readonly state: LiveState;
  /** Diameters of the last minute, mm. */
  readonly diameterMm: WeightedMoments;
  readonly recordBytes: number;
  readonly freeBytes: number;
  readonly messagesWaiting: number;
  readonly standsForMs: number;
  priorityOf(type: AlarmType): Priority;
}

const METRES_PER_MM = 1e-3;
const SECONDS_PER_MS = 1e-3;

/**
 * Writes the state of the line as text in OpenMetrics 1.0 format. As its conventions ask, names end in base units, and
 * counters in `_total`. What is unknown is left out. Labels have values from fixed lists and the numbers of zones, so there
 * are never more than a few hundred series.
 */
export class MetricsWriter {
  readonly #registry = openMetricsRegistry();

  readonly #build = this.#gauge('build_info', 'Version of the service, always 1', ['version']);
  readonly #linkUp = this.#gauge('link_up', '1 while the source of the readings is open');
  readonly #silence = this.#gauge('silence_seconds', 'Time since the last reading line');
  readonly #lag = this.#gauge(
    'pipeline_lag_seconds',
    'How long no reading line has been processed although lines arrive',
  );
  readonly #received = this.#counter('lines_received', 'Lines since the source was opened');
  readonly #readings = this.#counter('readings', 'Lines that became readings since the source was opened');
  readonly #lost = this.#counter('lines_lost', 'Lines that never arrived, by their numbers');
  readonly #dropped = this.#counter('lines_dropped', 'Lines that are no readings', ['cause']);
  readonly #restarts = this.#counter('device_restarts', 'Restarts of the microcontroller since the source was opened');
  readonly #stage = this.#gauge('stage', '1 for the stage of the line, 0 for the others', ['stage']);
  readonly #alarms = this.#gauge('alarms_active', 'Active alarms', ['type', 'priority']);
  readonly #unanswered = this.#gauge('alarms_to_acknowledge', 'Alarms not acknowledged yet', ['priority']);
  readonly #temperature = this.#gauge('zone_temperature_celsius', 'Temperature of a zone', ['zone']);
  readonly #setpoint = this.#gauge('zone_setpoint_celsius', 'Set-point of a zone', ['zone']);
  readonly #power = this.#gauge('zone_power_ratio', 'Heater power of a zone, 0 to 1', ['zone']);
  readonly #mean = this.#gauge('diameter_mean_meters', 'Mean diameter of the last minute');
  readonly #sd = this.#gauge('diameter_stddev_meters', 'Standard deviation of the diameter in the last minute');
  readonly #speed = this.#gauge('strand_speed_meters_per_second', 'Speed of the strand');
  readonly #wound = this.#gauge('spool_wound_meters', 'Length on the spool being wound');
  readonly #bad = this.#gauge('spool_bad_meters', 'Bad strand on the spool being wound');
  readonly #record = this.#gauge('record_size_bytes', 'Size of the record');
  readonly #free = this.#gauge('record_free_bytes', 'Free space on the disk of the record');
  readonly #outbox = this.#gauge('outbox_messages', 'Messages waiting to be sent');
  readonly #cpu = this.#counter('process_cpu_seconds', 'Processor time of the service', [], '');
  readonly #memory = this.#gauge('process_resident_memory_bytes', 'Memory of the service', [], '');
  readonly #started = this.#gauge('process_start_time_seconds', 'Start of the service, Unix time', [], '');

  get contentType(): string {
    return this.#registry.contentType;
  }

  write(facts: MetricsFacts): Promise<string> {
    this.#registry.resetMetrics();
    const { state } = facts;
    const { link, now, spool } = state;
    this.#build.set({ version: VERSION }, 1);
    this.#linkUp.set(link.phase === 'open' ? 1 : 0);
    known(this.#silence, link.silentForS);
    this.#lag.set(facts.standsForMs * SECONDS_PER_MS);
    this.#received.inc(link.received);
    this.#readings.inc(link.readings);
    this.#lost.inc(link.lost);
    for (const cause of DROP_CAUSES) this.#dropped.inc({ cause }, link.dropped[cause]);
    this.#restarts.inc(link.restarts);
    for (const stage of STAGES) this.#stage.set({ stage }, state.stage.stage === stage ? 1 : 0);
    this.#setAlarms(facts);
    for (const zone of state.zones) {
      const label = { zone: String(zone.zone) };
      known(this.#temperature.labels(label), zone.temperatureC);
      known(this.#setpoint.labels(label), zone.setpointC);
      known(this.#power.labels(label), zone.power);
    }
    known(this.#mean, facts.diameterMm.mean, METRES_PER_MM);
    known(this.#sd, facts.diameterMm.sd, METRES_PER_MM);
    known(this.#speed, now.speedMmPerS, METRES_PER_MM);
    known(this.#wound, spool?.woundMm ?? null, METRES_PER_MM);
    known(this.#bad, spool?.discardMm ?? null, METRES_PER_MM);
    this.#record.set(facts.recordBytes);
    this.#free.set(facts.freeBytes);
    this.#outbox.set(facts.messagesWaiting);
    const { user, system } = process.cpuUsage();
    this.#cpu.inc((user + system) / 1e6);
    this.#memory.set(process.memoryUsage.rss());
    this.#started.set(performance.timeOrigin * SECONDS_PER_MS);
    return this.#registry.metrics();
  }

  #setAlarms({ state, priorityOf }: MetricsFacts): void {
    for (const type of ALARM_TYPES) {
      const count = state.alarms.filter((alarm) => alarm.type === type && isActive(alarm.state)).length;
      this.#alarms.set({ type, priority: priorityOf(type) }, count);
    }
    for (const priority of PRIORITIES) {
      const unanswered = state.alarms.filter((a) => a.priority === priority && awaitsAcknowledgement(a.state));
      this.#unanswered.set({ priority }, unanswered.length);
    }
  }

  #gauge<L extends string>(
    name: string,
    help: string,
    labelNames: readonly L[] = [],
    prefix = 'strandward_',
  ): Gauge<L> {
    return new Gauge({ name: prefix + name, help, labelNames, registers: [this.#registry] });
  }

  #counter<L extends string>(
    name: string,
    help: string,
    labelNames: readonly L[] = [],
    prefix = 'strandward_',
  ): Counter<L> {
    return new Counter({
      name: `${prefix}${name}_total`,
      help,
      labelNames,
      registers: [this.#registry],
    });
  }
}

function openMetricsRegistry(): Registry<OpenMetricsContentType> {
  const registry = new Registry<OpenMetricsContentType>();
  registry.setContentType(Registry.OPENMETRICS_CONTENT_TYPE);
  return registry;
}

/** Sets a gauge whose value may be unknown; left out, it has no sample. */
function known(gauge: { set(value: number): void; remove?(): void }, value: number | null, perUnit = 1): void {
  if (value !== null && Number.isFinite(value)) gauge.set(value * perUnit);
  else gauge.remove?.();
}
