/**
 * Speaks a sentence where the browser can. Like sound, speech needs a press first. A newer sentence replaces one that is
 * still being spoken.
 */
export function speak(sentence: string): void {
  if (!('speechSynthesis' in window)) return;
  const utterance = new SpeechSynthesisUtterance(forEars(sentence));
  utterance.lang = 'en';
  utterance.rate = 0.95;
  speechSynthesis.cancel();
  speechSynthesis.speak(utterance);
}

export function stopSpeaking(): void {
  if ('speechSynthesis' in window) speechSynthesis.cancel();
}

/** Spells out the units, which voices otherwise read as letters. */
export function forEars(sentence: string): string {
  return sentence
    .replace(/(\d)\s*mm\b/g, '$1 millimetres')
    .replace(/(\d)\s*m\b/g, '$1 metres')
    .replace(/(\d)\s*s\b/g, '$1 seconds')
    .replace(/(\d)\s*min\b/g, '$1 minutes')
    .replace(/(\d)\s*°C/g, '$1 degrees');
}
