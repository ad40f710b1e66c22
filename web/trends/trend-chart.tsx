import { dayOfYear } from '../format/times.ts';
import { FIGURE_TEXT, type TrendFigure, type TrendNight } from './trend-text.ts';

const WIDTH = 1000;
const HEIGHT = 100;

/** One figure over the nights: a dot a night, and the level of nights that are alike with its 95 % band. */
export function TrendChart({ figure, nights }: { figure: TrendFigure; nights: readonly TrendNight[] }) {
  const { number, floor, ceiling, title, unit } = FIGURE_TEXT[figure.key];
  const seen = figure.values.filter((value) => value !== null);
  const levels = figure.periods.flatMap(({ level }) => (level === null ? [] : [level.value]));
  const [least, most] = [Math.min(...seen, ...levels), Math.max(...seen, ...levels)];
  const room = Math.max((most - least) * 0.1, floor === null ? 0.005 : 0);
  const low = floor ?? least - room;
  const high = ceiling ?? (most + room > low ? most + room : low + 1);
  const x = (night: number) => ((night + 0.5) / nights.length) * WIDTH;
  const y = (value: number) => HEIGHT * (1 - (Math.min(high, Math.max(low, value)) - low) / (high - low));
  return (
    <div class="trend-chart">
      <span class="trend-top fine">{number(high)}</span>
      <span class="trend-bottom fine">{number(low)}</span>
      <svg
        viewBox={`0 0 ${WIDTH} ${HEIGHT}`}
        preserveAspectRatio="none"
        role="img"
        aria-label={`${title}, ${unit}, by night`}
      >
        {figure.periods.map(({ from, to, level }) => {
          const [left, right] = [x(from - 0.5), x(to + 0.5)];
          return (
            <g key={from}>
              {level && (
                <>
                  <rect
                    class="trend-band"
                    x={left}
                    width={right - left}
                    y={y(level.upper)}
                    height={Math.max(0, y(level.lower) - y(level.upper))}
                  />
                  <line class="trend-level" x1={left} x2={right} y1={y(level.value)} y2={y(level.value)} />
                </>
              )}
              {from > 0 && <line class="trend-change" x1={left} x2={left} y1="0" y2={HEIGHT} />}
            </g>
          );
        })}
        {figure.values.map(
          (value, night) =>
            value !== null && (
              // A line of no length with round ends stays round although the drawing is stretched.
              <line
                class="trend-dot"
                key={nights[night]!.runId}
                x1={x(night)}
                x2={x(night)}
                y1={y(value)}
                y2={y(value)}
              >
                <title>{`Run ${nights[night]!.runId}, ${dayOfYear(nights[night]!.startedMs, nights[night]!.timeZone)}: ${number(value)} ${unit}`}</title>
              </line>
            ),
        )}
        {nights.map(
          ({ changes, runId }, night) =>
            changes.length > 0 && (
              <line
                class="trend-prepared"
                key={runId}
                x1={x(night - 0.5)}
                x2={x(night - 0.5)}
                y1={HEIGHT}
                y2={HEIGHT + 7}
              >
                <title>{changes.join('; ')}</title>
              </line>
            ),
        )}
      </svg>
    </div>
  );
}
