import type { AlarmChange } from '../alarm/alarm.ts';
import type { Judgement } from '../monitor/spool/judgement.ts';
import type { DiameterSpread } from '../monitor/spool/spool-judge.ts';
import { AlarmStepOnBroker, LineStateOnBroker, SpoolOnBroker } from './contract/broker.ts';
import type { LiveState } from './contract/live-state.ts';
import { cutPlanView } from './cut-plan-view.ts';
import { writeOnDemand } from './schemas-on-demand.ts';
import { alarmView, spoolView } from './views.ts';

const writeState = writeOnDemand(LineStateOnBroker);
const writeAlarmStep = writeOnDemand(AlarmStepOnBroker);
const writeSpool = writeOnDemand(SpoolOnBroker);

/** Writes what programs read on an MQTT broker, by the schemas of the contract. */
export class BrokerTexts {
  readonly #lineName: () => string;

  constructor(lineName: () => string) {
    this.#lineName = lineName;
  }

  state(state: LiveState): string {
    const { diameterMm, speedMmPerS } = state.now;
    return writeState({ ...state, diameterMm, speedMmPerS });
  }

  alarmStep(change: AlarmChange, key: string): string {
    const alarm = alarmView(change.alarm);
    return writeAlarmStep({ ...change, key, lineName: this.#lineName(), alarm });
  }

  spool(judged: Judgement, spread: DiameterSpread | null, key: string): string {
    const { plan, woundSpool } = judged;
    return writeSpool({
      key,
      lineName: this.#lineName(),
      spool: spoolView(judged),
      lot: woundSpool.run.lot,
      diameterMeanMm: spread?.meanMm ?? null,
      diameterSdMm: spread?.sdMm ?? null,
      cutPlan: plan && cutPlanView(judged, plan),
    });
  }
}

/** What makes a state worth publishing at once. Lengths and sentences change all the time. */
export function importantIn({ severity, stage, run, spool, alarms }: LiveState): string {
  const standing = alarms.map(({ id, state, priority, occurrences }) => [id, state, priority, occurrences]);
  return JSON.stringify([severity, stage.stage, run?.id, spool?.id, standing]);
}
