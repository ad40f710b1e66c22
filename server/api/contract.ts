/** Schemas that addresses outside the table of routes (`contract/`) still name; each moves there with its route. */

export { AlarmView } from './contract/alarms.ts';
export { type ExpectedHeat, LiveFrame, type ReadingsFrame } from './contract/live.ts';
export { AdviceView, LinkView, LiveState, type ZoneView } from './contract/live-state.ts';
export { ProblemView } from './contract/problem.ts';
export {
  LimitsView,
  LotInput,
  LotView,
  RunDetail,
  RunView,
  SectionInput,
  SectionView,
  SpoolDetail,
  SpoolView,
  WindowView,
} from './contract/runs-and-spools.ts';
