import type { ComponentChildren } from 'preact';
import '../styles/first-evening.css';

interface StepGroup {
  readonly title: string;
  readonly steps: readonly ComponentChildren[];
}

const CAUTIONS: readonly (readonly [string, string])[] = [
  ['Hot', 'Barrel, die and fresh strand burn skin. Wear gloves made for heat, and keep away what can catch fire.'],
  ['Moving', 'Screw, puller and winder pull in fingers, hair and sleeves. Stop the machine before you reach in.'],
  [
    'Mains',
    'Leave mains wiring to a licensed electrician, and follow your local codes. Know which plug cuts the heaters off.',
  ],
  ['Fumes and dust', 'Molten plastic gives off fumes, and shredding makes fine dust. Ventilate.'],
  [
    'Watching is not protecting',
    'Strandward cannot switch anything off, and it can fail silently. An independent over-temperature cut-out, a smoke alarm and the machine’s manual come first.',
  ],
];

const GROUPS: readonly StepGroup[] = [
  {
    title: 'Connect',
    steps: [
      <>
        Plug the microcontroller into this computer. On <a href="/set-up">Set-up</a>, choose <b>Serial port</b> and pick
        it from the list.
      </>,
      <>
        Set-up shows what the line sends and what each value probably means. Correct what is wrong, then press{' '}
        <b>Yes, use these signals</b>.
      </>,
      <>
        Answer what is <b>still needed</b>. Measure the path from gauge to winder with a tape; check the gauge with two
        pins of known diameter.
      </>,
      <>
        Under <b>The filament</b>, enter nominal diameter, tolerance and hotend limit.
      </>,
      <>
        On <a href="/people">People</a>, add yourself and your phone. Start an alarm test, and confirm it on the phone.
      </>,
    ],
  },
  {
    title: 'Heat, purge, wind',
    steps: [
      <>
        Switch the heaters on, and stay. The <a href="/">live page</a> shows each zone as it warms up. Start the screw
        only when the page says that the barrel is hot all through.
      </>,
      <>
        Purge: pull the strand off and throw it away until the page says <b>Ready to wind</b>.
      </>,
      <>
        Put the strand on the spool and start the winder. The stage changes to <b>Winding</b>; if it does not, press it.
      </>,
      <>
        Stay for the first ten metres. Does the diameter on the page agree with your caliper? Does the length on the
        spool grow?
      </>,
      <>
        Before you leave the room for long, open <a href="/night">Before bed</a> and do what it lists. No cut-out, no
        smoke alarm, or no one near who can come? Then shut the line down.
      </>,
    ],
  },
  {
    title: 'If there is an alarm',
    steps: [
      <>
        Read its sentence, and do first what it says. Then press <b>Acknowledge</b>.
      </>,
      <>
        An alarm about heat: pull the heaters’ plug, let it cool, and look for the cause later. At smoke or fire, leave
        and call the fire brigade.
      </>,
    ],
  },
  {
    title: 'In the morning',
    steps: [
      <>Shut the line down as its manual says. A few minutes later the run ends automatically.</>,
      <>
        On <a href="/runs">Runs</a>, open last night: its verdict, the worst stretches, the alarms.
      </>,
      <>
        On the spool’s page, press <b>Cut it at the rewinder</b>. Take your phone along: it shows one step at a time.
        Then print a label.
      </>,
    ],
  },
];

/** From plugging in to the morning, on one sheet of paper. */
export default function FirstEveningPage() {
  return (
    <article class="first-evening">
      <header class="page-head">
        <h1>Your first evening</h1>
        <p>
          From plugging in to the morning.{' '}
          <span class="no-print">It prints on one sheet, to tick off beside the machine.</span>{' '}
          <button type="button" class="plain no-print" onClick={() => print()}>
            Print this page
          </button>
        </p>
      </header>
      <section class="first-cautions" aria-labelledby="first-cautions">
        <h2 id="first-cautions">Before anything else</h2>
        <dl>
          {CAUTIONS.map(([what, text]) => (
            <div key={what}>
              <dt>{what}</dt>
              <dd>{text}</dd>
            </div>
          ))}
        </dl>
      </section>
      <div class="first-steps">
        {GROUPS.map(({ title, steps }) => (
          <section key={title}>
            <h2>{title}</h2>
            <ul>
              {steps.map((step, i) => (
                <li key={`${title}${i}`}>{step}</li>
              ))}
            </ul>
          </section>
        ))}
      </div>
      <p class="only-print first-address">Strandward at {location.origin}</p>
    </article>
  );
}
