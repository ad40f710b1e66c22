/**
 * The winder winds the strand in turns and layers. A turn in layer k has the length π · (core + (2k − 1) · d).
 */

const CORE_MM = 80;
const WIDTH_MM = 60;

export class Winder {
  on = false;
  /** 1 = first spool; 0 before the first. */
  spool = 0;
  /** Strand on the spool, mm. */
  woundMm = 0;
  turns = 0;
  readonly #pitchMm: number;
  readonly #turnsPerLayer: number;

  constructor(strandMm: number) {
    this.#pitchMm = strandMm;
    this.#turnsPerLayer = Math.floor(WIDTH_MM / strandMm);
  }

  /** Start a new, empty spool. */
  start(): void {
    this.on = true;
    this.spool++;
    this.woundMm = 0;
    this.turns = 0;
  }

  stop(): void {
    this.on = false;
  }

  /** One strand step. Nothing is wound if there is no strand at the winder. */
  step(lengthMm: number, hasStrand: boolean): void {
    if (!this.on || !hasStrand) return;
    this.woundMm += lengthMm;
    const layer = 1 + Math.floor(this.turns / this.#turnsPerLayer);
    this.turns += lengthMm / (Math.PI * (CORE_MM + (2 * layer - 1) * this.#pitchMm));
  }
}
