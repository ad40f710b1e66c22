import { type Theme, theme } from './theme.ts';

const CHOICES: readonly { readonly value: Theme; readonly text: string }[] = [
  { value: 'system', text: 'As the device' },
  { value: 'light', text: 'Light' },
  { value: 'dark', text: 'Dark' },
];

export function Footer() {
  return (
    <footer class="footer">
      <p>
        Hot, moving, unattended machinery. Strandward only watches and is no safety device: an independent
        over-temperature cut-out, a smoke alarm and the maker’s instructions come first. Ventilate fumes and fine dust.
      </p>
      <fieldset class="switch">
        <legend>Colours</legend>
        {CHOICES.map((choice) => (
          <label key={choice.value}>
            <input
              type="radio"
              name="colours"
              checked={theme.value === choice.value}
              onChange={() => {
                theme.value = choice.value;
              }}
            />
            <span>{choice.text}</span>
          </label>
        ))}
      </fieldset>
    </footer>
  );
}
