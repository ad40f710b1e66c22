import { live } from '../service/live-store.ts';
import { AdviceList } from '../shell/advice-list.tsx';

/** What is to be known of the strand at the gauge, beside the alarms. */
export function AdviceNow() {
  const advice = live.value?.advice ?? [];
  if (advice.length === 0) return null;
  return (
    <section class="advice" aria-labelledby="advice-title">
      <header class="section-head">
        <h2 id="advice-title">Worth knowing</h2>
      </header>
      <AdviceList advice={advice} />
    </section>
  );
}
