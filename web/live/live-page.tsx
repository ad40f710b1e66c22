import { live, oldForMs } from '../service/live-store.ts';
import { StrandFigure } from '../strand-view/strand-figure.tsx';
import { AdviceNow } from './advice-now.tsx';
import { Alarms } from './alarms.tsx';
import { LinkPanel } from './link-panel.tsx';
import { NowFigures } from './now-figures.tsx';
import { ReachNote } from './reach-note.tsx';
import { RecentSections } from './recent-sections.tsx';
import { Sentence } from './sentence.tsx';
import { StagePanel } from './stage-panel.tsx';
import { StagedNote } from './staged-note.tsx';
import { Zones } from './zones.tsx';

/** The strand now: one sentence, the strand itself, what stands against it, the heat, the link. */
export function LivePage() {
  return (
    <div class="live">
      <Sentence />
      <StagedNote />
      <ReachNote />
      <NowFigures />
      <StrandFigure />
      {live.value && (
        <div class={`live-below${oldForMs.value === null ? '' : ' stale'}`}>
          <div class="live-side">
            <Alarms />
            <AdviceNow />
            <RecentSections />
          </div>
          <div class="live-main">
            <StagePanel />
            <Zones />
            <LinkPanel />
            <p class="fine">
              <a href="/wall">Show on the wall</a>: sentence, strand and trace alone, readable from four metres.
            </p>
          </div>
        </div>
      )}
    </div>
  );
}
