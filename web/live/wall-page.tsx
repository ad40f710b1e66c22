import { StrandFigure } from '../strand-view/strand-figure.tsx';
import { Headline } from './headline.tsx';
import { NowFigures } from './now-figures.tsx';

/** For a screen on the wall: only headline, figures, strand and trace. */
export default function WallPage() {
  return (
    <main class="wall">
      <Headline wall />
      <NowFigures />
      <StrandFigure wall />
      <a class="wall-back" href="/">
        Back to the live page
      </a>
    </main>
  );
}
