/**
 * Says a sentence aloud where the browser can speak. As with sounds, browsers want a press first; what is said is said
 * after the tones, and a newer sentence takes the place of one that is still being said.
 */
export function speak(sentence: string): void {
  if (!('speechSynthesis' in window)) return;
  const said = new SpeechSynthesisUtterance(forEars(sentence));
  said.lang = 'en';
  said.rate = 0.95;
  speechSynthesis.cancel();
  speechSynthesis.speak(said);
}

export function stopSpeaking(): void {
  if ('speechSynthesis' in window) speechSynthesis.cancel();
}

/** Units as they are said. */
export function forEars(sentence: string): string {
  return sentence
    .replace(/(\d)\s*mm\b/g, '$1 millimetres')
    .replace(/(\d)\s*m\b/g, '$1 metres')
    .replace(/(\d)\s*s\b/g, '$1 seconds')
    .replace(/(\d)\s*min\b/g, '$1 minutes')
    .replace(/(\d)\s*°C/g, '$1 degrees');
}
