import type { MassView } from '../../server/api/contract/judgement.ts';
import type { SectionView } from '../../server/api/contract/runs-and-spools.ts';
import type { ReelView } from '../../server/api/contract/spool-analysis.ts';
import { grams, gramsWithError, metres, percent } from '../format/numbers.ts';
import { Part } from '../shell/part.tsx';
import { CrossSection } from './cross-section.tsx';
import { hours } from './fitness-text.ts';
import { layersText } from './reel-picture.ts';

interface Props {
  readonly reel: ReelView | null;
  readonly mass: MassView;
  readonly sections: readonly SectionView[];
  readonly cursorMm: number;
  /** Share of the wound strand that was cut off since. */
  readonly offShare: number;
  readonly show: (section: SectionView) => void;
}

/** The spool in cross-section, its mass, and how much still fits. */
export function ReelPart({ reel, mass, sections, cursorMm, offShare, show }: Props) {
  const pace = mass.gramsPerHour;
  return (
    <Part
      id="reel"
      title="On the spool"
      lead={
        reel
          ? `From the side, and cut through the axis. ${
              reel.placesFrom === 'turnCounter'
                ? 'Layers and turns are those that the winder counted'
                : 'Turns were not counted, so layers are estimated from the length and the spool’s dimensions'
            }. It unwinds from the outside.${offShare > 0 ? ' Drawn as it was wound, with what was cut off since.' : ''}`
          : 'Set the spool’s dimensions in Set-up to see where each stretch is.'
      }
    >
      {reel && reel.woundMm > 0 && <CrossSection reel={reel} sections={sections} cursorMm={cursorMm} show={show} />}
      <dl class="facts">
        <div>
          <dt>Mass</dt>
          <dd>
            {gramsWithError(mass.grams * (1 - offShare), mass.gramsUncertainty * (1 - offShare))}
            {offShare > 0 && ` of ${grams(mass.grams)} wound`}
          </dd>
        </div>
        <div>
          <dt>A kilogram is</dt>
          <dd>{mass.metresPerKilogram.toFixed(0)}&nbsp;m</dd>
        </div>
        {pace !== null && (
          <div>
            <dt>Pace</dt>
            <dd>{pace.toFixed(0)}&nbsp;g/h</dd>
          </div>
        )}
        {mass.remainingMm !== null && (
          <div>
            <dt>Still fits</dt>
            <dd>
              {metres(mass.remainingMm, 0)}&nbsp;m
              {mass.remainingGrams !== null && `, ${grams(mass.remainingGrams)}`}
            </dd>
          </div>
        )}
        {mass.timeToFullS !== null && (
          <div>
            <dt>Full in</dt>
            <dd>{hours(mass.timeToFullS)}</dd>
          </div>
        )}
        {reel && (
          <div>
            <dt>Layers</dt>
            <dd>{layersText(reel.layersLeast, reel.layersMost)}</dd>
          </div>
        )}
      </dl>
      {reel && reel.filledShare > 1 && (
        <p class="warning-text">
          More is wound than a spool of the dimensions in Set-up can hold ({percent(reel.filledShare)}): measure core,
          flange and width again.
        </p>
      )}
      {reel?.turnCounter && <TurnCounter counter={reel.turnCounter} />}
    </Part>
  );
}

/** Compares the winder's turn counter with the dimensions of the spool. If they disagree, one of them is wrong. */
function TurnCounter({ counter }: { counter: NonNullable<ReelView['turnCounter']> }) {
  const { counted, byGeometry, differenceShare, bridgedTurns, used } = counter;
  if (!used)
    return (
      <p class="warning-text" data-testid="turn-counter">
        The winder’s counter can’t be counting this spool’s turns, which are {turns(byGeometry)} by its length and
        dimensions, so it is not used: see what it counts, or map it with a factor in Set-up.
      </p>
    );
  return (
    <p class="fine" data-testid="turn-counter">
      The winder counted {turns(counted)}; by the spool’s length and dimensions it is {turns(byGeometry)} (
      {percent(Math.abs(differenceShare))} {differenceShare < 0 ? 'more' : 'less'}).
      {bridgedTurns >= 1 && ` Where the counter was silent, ${turns(bridgedTurns)} are calculated from the length.`}
    </p>
  );
}

const turns = (n: number) => `${n.toFixed(1)} turns`;
