import { computed } from '@preact/signals';
import { capital, firstSentence } from '../../server/problem/sentence.ts';
import { undecided } from '../alerting/arrivals.ts';
import { stagedText } from '../format/names.ts';
import { counted } from '../format/numbers.ts';
import { call } from '../service/call.ts';
import { connection, live, staleForMs } from '../service/live-store.ts';
import { useAnswer } from '../service/use-answer.ts';
import { AdviceList } from '../shell/advice-list.tsx';
import { Later } from '../shell/later.tsx';
import { Shape } from '../shell/shape.tsx';
import { StrandFigure } from '../strand-view/strand-figure.tsx';
import { Alarms } from './alarms.tsx';
import { CalmGlance } from './calm-glance.tsx';
import { Headline } from './headline.tsx';
import { LinkPanel } from './link-panel.tsx';
import { NowFigures } from './now-figures.tsx';
import { RecentSections } from './recent-sections.tsx';
import { StagePanel } from './stage-panel.tsx';
import { Zones } from './zones.tsx';

/** The headline needs the room of the figures: for the choices about a blob, what to do about an alarm, or a lost connection. */
const asksAboutBlob = computed(() => live.value !== null && undecided(live.value).length > 0);
const hasAlarm = computed(() => typeof live.value?.sentenceAlarmId === 'number');
const isLost = computed(() => connection.value.phase === 'lost');
const isCalm = computed(() => !asksAboutBlob.value && !hasAlarm.value && !isLost.value);

/** The line now: the headline, the strand, the alarms, the heat and the link. */
export default function LivePage() {
  return (
    <div>
      {/* As high in every state, so that an alarm moves nothing below it: the figures make room for it. */}
      <div class={`live-top${asksAboutBlob.value ? ' crowded' : ''}`}>
        <Headline />
        {isCalm.value && <CalmGlance />}
        <NowFigures compact={!isCalm.value} />
      </div>
      <StagedNote />
      <ReachNote />
      <SettingsNote />
      <StrandFigure />
      {live.value && (
        <div class={`live-below${staleForMs.value === null ? '' : ' stale'}`}>
          <div class="live-side">
            <Later>{() => <Alarms />}</Later>
            <Later>
              {() => (
                <>
                  <AdviceNow />
                  <RecentSections />
                </>
              )}
            </Later>
            <Later>{() => <LinkPanel />}</Later>
          </div>
          <div class="live-main">
            <Later>{() => <StagePanel />}</Later>
            <Later>
              {() => (
                <>
                  <Zones />
                  <p class="fine">
                    <a href="/night">Before bed</a>: is everything ready to be left alone? ·{' '}
                    <a href="/wall">On the wall</a>: headline, strand and trace, readable from four metres.
                    <HouseLink />
                  </p>
                </>
              )}
            </Later>
          </div>
        </div>
      )}
    </div>
  );
}

/** The way to the other lines of the house, if there are any. */
function HouseLink() {
  const { view } = useAnswer(() => call('GET /api/lines'));
  if (view === null || view.length === 0) return null;
  return (
    <>
      {' '}
      · <a href="/lines">Lines</a>: the {view.length + 1} lines of the house, the worst first.
    </>
  );
}

/** Says that this is a replay or a simulation, and whose times are shown. */
function StagedNote() {
  const link = live.value?.link;
  if (!link?.playback) return null;
  return (
    <p class="staged fine" data-testid="staged">
      {capital(stagedText(link.playback))}, not a real line
      {link.timing === 'recorded' && `, with ${link.playback.kind === 'simulation' ? 'simulated' : 'recorded'} times`}.
      {link.playback.kind === 'simulation' && (
        <>
          {' '}
          To watch yours: <a href="/first-evening">your first evening</a>.
        </>
      )}
    </p>
  );
}

/** More would push the strand off a phone. */
const TROUBLES_SHOWN = 2;

/** Problems in reaching people. They are shown on the live page because they are as bad as an alarm that no one hears. */
function ReachNote() {
  const troubles = live.value?.notificationProblems ?? [];
  if (troubles.length === 0) return null;
  // Several without their causes, which People shows.
  const shown = troubles.length === 1 ? troubles : troubles.slice(0, TROUBLES_SHOWN).map(firstSentence);
  const more = troubles.length - shown.length;
  return (
    <div class="problem" role="alert" data-testid="reach-note">
      <Shape of="abnormal" size={20} />
      <div>
        <ul class="troubles">
          {shown.map((text) => (
            <li key={text}>{text}</li>
          ))}
        </ul>
        <p>
          {more > 0 && `And ${counted(more, 'more problem')}. `}
          <a href="/people">{troubles.length === 1 ? 'Fix it' : 'Fix them'}</a>
        </p>
      </div>
    </div>
  );
}

/** Limits that are the defaults again judge and alarm differently from what the user expects. */
function SettingsNote() {
  const text = live.value?.settingsProblem ?? null;
  if (text === null) return null;
  return (
    <div class="problem" role="alert" data-testid="settings-note">
      <Shape of="abnormal" size={20} />
      <p>
        {text} <a href="/set-up">Open Set-up</a>
      </p>
    </div>
  );
}

/** Advice about the strand at the gauge, which is not an alarm. */
function AdviceNow() {
  const advice = live.value?.advice ?? [];
  if (advice.length === 0) return null;
  return (
    <section aria-labelledby="advice-title">
      <header class="section-head">
        <h2 id="advice-title">Worth knowing</h2>
      </header>
      <AdviceList advice={advice} />
    </section>
  );
}
