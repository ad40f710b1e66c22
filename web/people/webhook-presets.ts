const SENTENCES = '{{title}}. {{text}} {{check}} {{caution}} {{link}}';

/** Templates by the kind of receiver; what a chat calls the field of the text is in its own manual. */
export const WEBHOOK_PRESETS = [
  { name: 'text', label: 'Chat that reads “text”', template: JSON.stringify({ text: SENTENCES }) },
  { name: 'content', label: 'Chat that reads “content”', template: JSON.stringify({ content: SENTENCES }) },
  { name: 'body', label: 'Chat that reads “body”', template: JSON.stringify({ body: SENTENCES }) },
  {
    name: 'titled',
    label: 'Push service that reads “title” and “message”',
    template: JSON.stringify({ title: '{{title}}', message: '{{text}} {{check}} {{caution}} {{link}}' }),
  },
  { name: 'whole', label: 'Own program', template: '' },
] as const;

export type PresetName = (typeof WEBHOOK_PRESETS)[number]['name'];

/** The preset of a template; null = written by the user. */
export function presetOf(template: string): PresetName | null {
  return WEBHOOK_PRESETS.find((one) => one.template === template)?.name ?? null;
}
