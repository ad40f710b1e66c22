import { span } from '../format/times.ts';
import { call } from '../service/call.ts';
import { live } from '../service/live-store.ts';
import { asProblem } from '../service/request.ts';
import { may } from '../service/session.ts';
import { showNotice } from '../shell/notice.tsx';

function withinText(seconds: number | null): string {
  return seconds === null ? 'later' : `within ${span(1000 * seconds)}`;
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
      () => showNotice({ text: 'Strandward learns again during the next full heat-up.' }),
      (thrown) => showNotice({ text: asProblem(thrown).message }),
    );
  return (
    <>
      {/* Hidden while the screw already turns, and while a stopped line needs nothing first. */}
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
            ? `${named(zonesWithoutPower)}: heater power not sent as 0…1. What cannot be detected`
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
                examines any that leaves the grey band. Noise and normal loads usually hide a fault for no longer than
                this:
                <ul class="visible-after">
                  {visibleAfter.map((one) => (
                    <li key={one.zone}>
                      {named([one.zone])}: sensor slipped out {withinText(one.slippedS)}; heater lost{' '}
                      {withinText(one.lostWhileHeatingS)} while heating up, {withinText(one.lostWhileHoldingS)} while
                      holding; half of it {withinText(one.halfLostWhileHeatingS)} while heating up,{' '}
                      {withinText(one.halfLostWhileHoldingS)} while holding; switch stuck on{' '}
                      {withinText(one.stuckWhileHoldingS)} while holding.
                    </li>
                  ))}
                </ul>
                “Later” means that cold stock, a fan or the neighbouring zones could explain the fault at first. It
                shows once the zone rises much more slowly than before, once the controller has changed the power, or
                never. A safety cut-off must not depend on any of these times.
                {may('manage') && (
                  <p class="actions">
                    <button type="button" onClick={forget}>
                      Learn the zones again
                    </button>
                  </p>
                )}
              </dd>
            </div>
          )}
          {unlearnt.length > 0 && (
            <div>
              <dt>Not learnt yet: {named(unlearnt)}</dt>
              {/* The figures are those of first evenings in `npm run bench -- heat`. */}
              <dd>
                Strandward learns what is normal from the first full heat-up from cold. Until then it reports only what
                no healthy zone does. On simulated lines it usually reported a lost heater within a minute while heating
                up, and within two minutes while holding. On small, slow lines that usually took two minutes while
                heating up, and five while holding. Where hotter neighbours kept the zone warm, it saw nothing. A sensor
                that slipped out of a warm zone showed within seconds. On slow lines, one that slipped out in the first
                minute usually showed within a minute, but some took six minutes or never showed. Of heaters that lost
                half their heat while heating up, it missed more than a third, and of those weak from the start three in
                four. A sensor that was out from the start looks like a slow zone. So stay beside the line during its
                first heat-up, and hold a second thermometer against the barrel.
              </dd>
            </div>
          )}
          {zonesWithoutPower.length > 0 && (
            <div>
              <dt>Power not sent as 0…1: {named(zonesWithoutPower)}</dt>
              <dd>
                Its faults are found minutes later, from temperature and set-point alone. A weak heater, a sensor that
                slips slowly, and a reading that freezes at its set-point may not be found. Let the board send its
                heater power (p1, p2, …), or say in Set-up which unit it sends, such as per cent.
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
