import { Needs } from '../shell/needs.tsx';
import { ProblemNote } from '../shell/problem-note.tsx';
import { Shape } from '../shell/shape.tsx';
import { AddPhone } from './add-phone.tsx';
import { ChannelPart } from './channel-part.tsx';
import { ContactPart } from './contact-part.tsx';
import { DrillPart } from './drill-part.tsx';
import { MessagesPart } from './messages-part.tsx';
import { people } from './people-store.ts';
import { orderText } from './people-text.ts';
import { RulesPart } from './rules-part.tsx';
import { useFreshPeople } from './use-people.ts';

/** Who is notified, through which channels, and whether that works. */
export default function PeoplePage() {
  const problem = useFreshPeople();
  const view = people.value;
  return (
    <div class="set-up people">
      <header class="page-head">
        <h1>People</h1>
        {view && <p>{orderText(view)}</p>}
      </header>
      {problem && <ProblemNote problem={problem} />}
      {view && view.notificationProblems.length > 0 && (
        <div class="problem" role="alert" data-testid="trouble">
          <Shape of="abnormal" size={20} />
          <ul class="troubles">
            {view.notificationProblems.map((text) => (
              <li key={text}>{text}</li>
            ))}
          </ul>
        </div>
      )}
      {view && (
        <>
          {view.channels.length > 0 && view.rules.pageAddress === '' && (
            <p class="with-shape" data-testid="no-link">
              <Shape of="notice" size={18} />
              <span>
                Messages have no link to acknowledge with: enter the <a href="#rules-page">address of this page</a> that
                works on phones.
              </span>
            </p>
          )}
          <Needs right="manage">
            <AddPhone view={view} />
            <ContactPart view={view} />
            <ChannelPart view={view} />
          </Needs>
          <Needs right="act" quiet>
            <DrillPart view={view} />
          </Needs>
          <Needs right="manage" quiet>
            <RulesPart view={view} />
            <MessagesPart view={view} />
          </Needs>
          <p class="fine people-caution">
            A message can fail on its way, and a phone’s battery can be empty. Strandward is no safety device: an
            independent over-temperature cut-out and a smoke alarm come first.
          </p>
        </>
      )}
    </div>
  );
}
