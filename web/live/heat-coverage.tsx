import { span } from '../format/times.ts';
import { call } from '../service/call.ts';
import { live } from '../service/live-store.ts';
import { asProblem } from '../service/request.ts';
import { showNotice } from '../shell/notice.tsx';

function afterText(seconds: number | null): string {
  return seconds === null ? 'later' : `after ${span(1000 * seconds)}`;
}

/** Whether the screw may turn, which zones are learnt, and which heater faults cannot be detected. */
export default function HeatCoverage() {
  const state = live.value;
  if (!state) return null;
  const { missingBeforeScrew, learntZones, visibleAfter, zonesWithoutPower } = state.heat;
  const { stage } = state.stage;
  const named = (zones: readonly number[]) =>
    zones.map((zone) => state.zones.find((one) => one.zone === zone)?.name ?? `Zone ${zone}`).join(', ');
  const unlearnt = state.zones
    .map(({ zone }) => zone)
    .filter((zone) => !learntZones.includes(zone) && !zonesWithoutPower.includes(zone));
  const forget = () =>
    call('POST /api/heat/forget').then(
      () => showNotice({ text: 'Forgotten. The next heat-up teaches it anew.' }),
      (thrown) => showNotice({ text: asProblem(thrown).message }),
    );
  return (
    <>
      {/* Once there is strand the screw turns already, and a stopped line is not about to turn it. */}
      {(stage === 'heating' || (stage === 'stopped' && missingBeforeScrew.length > 0)) && (
        <p class="quiet" data-testid="screw">
          {missingBeforeScrew.length === 0
            ? 'Ready to turn the screw.'
            : `Before the screw turns: ${missingBeforeScrew.join('; ')}.`}
        </p>
      )}
      <details class="heat-coverage" data-testid="heat-coverage">
        <summary>
          {zonesWithoutPower.length > 0
            ? `The power of ${named(zonesWithoutPower)} is not told: what cannot be seen`
            : unlearnt.length > 0
              ? `${named(unlearnt)} not learnt yet: what cannot be seen`
              : 'Every zone is learnt: what cannot be seen'}
        </summary>
        <dl class="heat-limits">
          {learntZones.length > 0 && (
            <div>
              <dt>Learnt from its own heat-ups: {named(learntZones)}</dt>
              <dd>
                Power, losses and neighbours tell where each reading is expected; what leaves the grey band is looked
                into. How soon a fault can be told from noise and normal loads:
                <ul class="visible-after">
                  {visibleAfter.map((one) => (
                    <li key={one.zone}>
                      {named([one.zone])}: sensor slipped out {afterText(one.slippedS)}; heater lost{' '}
                      {afterText(one.lostWhileHeatingS)} while heating up, {afterText(one.lostWhileHoldingS)} while
                      holding; half of it {afterText(one.halfLostWhileHeatingS)} while heating up,{' '}
                      {afterText(one.halfLostWhileHoldingS)} while holding.
                    </li>
                  ))}
                </ul>
                “Later” means once the controller has raised the power; until then cold stock or a fan could explain it.
                A safety cut-off must not depend on any of these times.
                <p class="actions">
                  <button type="button" onClick={forget}>
                    Forget it: the line was rebuilt
                  </button>
                </p>
              </dd>
            </div>
          )}
          {unlearnt.length > 0 && (
            <div>
              <dt>Not learnt yet: {named(unlearnt)}</dt>
              <dd>
                The first full heat-up from cold teaches what is normal. Until then faults are told by what no healthy
                zone does: later, and a weak heater only once it is late. A small, slow line is given up to two minutes
                before its first rise is missed. A sensor that was out of its hole from the start looks like a slow
                zone: hold a second thermometer against the barrel on the first evening.
              </dd>
            </div>
          )}
          {zonesWithoutPower.length > 0 && (
            <div>
              <dt>Power not told: {named(zonesWithoutPower)}</dt>
              <dd>
                Its faults are found minutes later, from temperature and set-point alone. A weak heater, a sensor that
                slips slowly, and a reading that freezes at its set-point may not be found. Let the board send its
                heater power (p1, p2, …).
              </dd>
            </div>
          )}
          <div>
            <dt>Never seen from here</dt>
            <dd>
              A sensor that slowly reads wrong while its controller follows: the reading stays at the set-point. Hold a
              second thermometer against the barrel now and then.
            </dd>
          </div>
        </dl>
      </details>
    </>
  );
}
