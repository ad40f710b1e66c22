import { call } from '../service/call.ts';
import { live } from '../service/live-store.ts';
import { asProblem } from '../service/request.ts';
import { showNotice } from '../shell/notice.tsx';

/** Whether the screw may turn, which zones are learnt, and which heater faults cannot be detected. */
export default function HeatCoverage() {
  const state = live.value;
  if (!state) return null;
  const { missingBeforeScrew, learntZones, zonesWithoutPower } = state.heat;
  const { stage } = state.stage;
  const named = (zones: readonly number[]) =>
    zones.map((zone) => state.zones.find((one) => one.zone === zone)?.name ?? `Zone ${zone}`).join(', ');
  const unlearnt = state.zones
    .map(({ zone }) => zone)
    .filter((zone) => !learntZones.includes(zone) && !zonesWithoutPower.includes(zone));
  const forget = () =>
    call('POST /api/heat/forget').then(
      () => showNotice({ text: 'Strandward learns again during the next full heat-up.' }),
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
            ? `${named(zonesWithoutPower)}: heater power not sent. What cannot be detected`
            : unlearnt.length > 0
              ? `${named(unlearnt)} not learnt yet. What cannot be detected`
              : 'Every zone is learnt. What cannot be detected'}
        </summary>
        <dl class="heat-limits">
          {learntZones.length > 0 && (
            <div>
              <dt>Learnt from its own heat-ups: {named(learntZones)}</dt>
              <dd>
                Strandward knows from power, heat losses and neighbouring zones where to expect each reading, and
                examines any that leaves the grey band.{' '}
                <button type="button" onClick={forget}>
                  Learn again: the line was rebuilt
                </button>
              </dd>
            </div>
          )}
          {unlearnt.length > 0 && (
            <div>
              <dt>Not learnt yet: {named(unlearnt)}</dt>
              <dd>
                Strandward learns what is normal from the first full heat-up from cold. Until then it reports only what
                no healthy zone does. So it reports faults later, and a weak heater only once the zone is late.
              </dd>
            </div>
          )}
          {zonesWithoutPower.length > 0 && (
            <div>
              <dt>Power not sent: {named(zonesWithoutPower)}</dt>
              <dd>
                Its faults are found minutes later, from temperature and set-point alone. A weak heater, a sensor that
                slips slowly, and a reading that freezes at its set-point may not be found. Let the board send its
                heater power (p1, p2, …).
              </dd>
            </div>
          )}
          <div>
            <dt>Never detected</dt>
            <dd>
              A sensor whose error grows slowly: the controller follows it, so the reading stays at the set-point. Hold
              a second thermometer against the barrel now and then.
            </dd>
          </div>
        </dl>
      </details>
    </>
  );
}
