import { checkAlarmSetting } from '../../server/alarm/alarm-settings.ts';
import type { AlarmTypeView } from '../../server/api/contract/alarms.ts';
import { Problem } from '../../server/problem/problem.ts';
import type { FaultTexts } from '../form/field-of.ts';

/** How an alarm type is set, as it is typed; null where there is no number. */
export interface TypeDraft {
  readonly priority: AlarmTypeView['priority'];
  readonly onDelayS: number | null;
  readonly offDelayS: number | null;
  /** null also where its condition has no measure. */
  readonly deadband: number | null;
  readonly latching: boolean;
  readonly consequence: string;
  readonly firstCheck: string;
}

export function draftOf(type: AlarmTypeView): TypeDraft {
  const { priority, onDelayS, offDelayS, deadband, latching, consequence, firstCheck } = type;
  return { priority, onDelayS, offDelayS, deadband, latching, consequence, firstCheck };
}

/** The draft as the service takes it, or what is wrong with which field. The rules are the service's own. */
export function checkTypeDraft(
  type: AlarmTypeView,
  draft: TypeDraft,
  absoluteLimitC: number,
): { readonly given: object } | { readonly faults: FaultTexts<keyof TypeDraft> } {
  const faults: Partial<Record<keyof TypeDraft, string>> = {};
  const given: Record<string, unknown> = {};
  for (const name of Object.keys(draft) as (keyof TypeDraft)[]) {
    if (name === 'deadband' && type.deadband === null) continue;
    const value = draft[name] ?? Number.NaN;
    try {
      checkAlarmSetting(type.type, { [name]: value }, { absoluteLimitC });
      given[name] = value;
    } catch (thrown) {
      if (!(thrown instanceof Problem)) throw thrown;
      faults[name] = `${thrown.message} ${thrown.remedy}`;
    }
  }
  return Object.keys(faults).length === 0 ? { given } : { faults };
}
