/** A smaller jump does not matter, mm. */
const LEAST_MM = 0.035;
/** A jump is looked at if its first reading is off the mean before by this many standard deviations of a reading. */
const LOOK_SIGMAS = 3.5;
/** By so many, a reading is off the strand. */
const SIGMAS = 4;
/** Readings before a jump whose mean is compared. */
const BEFORE = 16;
/** Their mean must be that of the strand before, and they must not scatter more than the gauge: they are no flank of a blob. */
const STEADY_SHARE = 0.3;
const STEADY_SIGMAS = 2;
/** The jump must last for this much strand: a blob is shorter. */
const LASTS_MM = 120;
/** The jump must stand out from what the strand does over so few readings by this many standard deviations. */
const STRAND_SIGMAS = 5;
/** Assumed before any strand has passed, mm, and how many lots of readings that is worth; the last lots count. */
const FIRST_GUESS_MM = 0.008;
const FIRST_GUESS_COUNTS = 4;
const MEMORY = 200;
/** Readings after a jump, beyond which a wrong reading is over. */
const FIRST = 4;
/** A gauge that is frozen after the jump has not shifted. */
const CHANGES = 3;
/** Of the jump, at least this share must stay, in the first third of that strand and in the last. */
const STAYS_SHARE = 0.6;
/** The strand itself may take away as much as this many standard deviations of its usual changes. */
const STAYS_SIGMAS = 2;
/** What is left of a shift after a jump back is less than this share of it, or the gauge has shifted again. */
const BACK_SHARE = 0.5;
/** With readings further apart, a change within one reading may be the strand's. */
const COARSEST_PITCH_MM = 3;

/**
 * Finds a jump of the whole trace within one reading that lasts: something settled in the gauge's window or left it, or the
 * gauge was pushed. Strand does not do that: drawn down over some length, it changes over that length.
 */
export class GaugeShift {
  readonly #before = new Float64Array(BEFORE);
  #count = 0;
  #sumBefore = 0;
  /** Mean over the strand before, and where that starts. */
  #slowMm = Number.NaN;
  #fromMm = Number.NaN;
  #wasOff = false;
  #last = Number.NaN;
  #lastMm = Number.NaN;
  /** The jump being looked at: its size, its sign, and sums over the strand after it, which are above 0 on that side; 0 = none. */
  #jumpMm = 0;
  #side = 1;
  #levelMm = 0;
  /** Mean of the first readings after the jump, beyond the level before. */
  #firstMm = 0;
  #sigmaMm = 0;
  /** The jump may have been more than its first reading shows. */
  #mostMm = 0;
  #readings = 0;
  #changes = 0;
  /** How much the strand itself varies. */
  readonly #strand = new StrandChanges();
  #near = new Part();
  #early = new Part();
  #late = new Part();
  #jumpAtMm = 0;
  #jumpTimeMs = 0;
  /** By how much readings are off since the last jump that lasted, mm; 0 = not known to be off. */
  shiftMm = 0;
  /** Where that jump was. */
  sinceMm = Number.NaN;
  sinceTimeMs = Number.NaN;

  /** Returns whether the shift changed with this reading. */
  step(timeMs: number, gaugeMm: number, diameterMm: number, sigmaMm: number, pitchMm: number): boolean {
    let changed = false;
    if (this.#jumpMm === 0) {
      const jump = diameterMm - this.#sumBefore / BEFORE;
      // Noise may hide up to half of it.
      const isJump = Math.abs(jump) > Math.max(LEAST_MM / 2, LOOK_SIGMAS * sigmaMm);
      if (isJump && pitchMm <= COARSEST_PITCH_MM && this.#isSteady(jump, sigmaMm))
        this.#start(timeMs, gaugeMm, diameterMm, sigmaMm);
    }
    if (this.#jumpMm !== 0) changed = this.#follow(gaugeMm, diameterMm);
    else {
      // Two readings off the mean: a blob, or its flank. Even strand starts again after it.
      const offMm = Math.abs(diameterMm - this.#slowMm);
      const isOff = offMm > LEAST_MM && offMm > SIGMAS * sigmaMm;
      if (isOff && this.#wasOff) this.#restart(gaugeMm, diameterMm);
      else this.#remember(gaugeMm, diameterMm);
      this.#wasOff = isOff;
    }
    this.#last = diameterMm;
    this.#lastMm = gaugeMm;
    this.#strand.step(diameterMm);
    return changed;
  }

  /** The next reading does not follow on the last one. */
  interrupt(): void {
    this.#last = Number.NaN;
    this.#jumpMm = 0;
    this.#count = 0;
    this.#sumBefore = 0;
    this.#before.fill(0);
    this.#slowMm = Number.NaN;
  }

  /** Whoever stopped the line may have cleaned the gauge. */
  forget(): void {
    this.interrupt();
    this.shiftMm = 0;
  }

  /** The strand before was even for long, up to the last reading. */
  #isSteady(jumpMm: number, sigmaMm: number): boolean {
    if (this.#count < BEFORE || !(this.#lastMm - this.#fromMm > LASTS_MM)) return false;
    const level = this.#sumBefore / BEFORE;
    if (Math.abs(level - this.#slowMm) > STEADY_SHARE * Math.abs(jumpMm)) return false;
    const squares = this.#before.reduce((sum, mm) => sum + (mm - level) ** 2, 0);
    return squares < BEFORE * (STEADY_SIGMAS * sigmaMm) ** 2;
  }

  #remember(gaugeMm: number, diameterMm: number): void {
    if (Number.isNaN(this.#slowMm)) {
      this.#slowMm = diameterMm;
      this.#fromMm = gaugeMm;
    } else {
      this.#slowMm += (diameterMm - this.#slowMm) * Math.min(1, (2 * (gaugeMm - this.#lastMm)) / LASTS_MM);
    }
    const at = this.#count & (BEFORE - 1);
    this.#sumBefore += diameterMm - this.#before[at]!;
    this.#before[at] = diameterMm;
    this.#count++;
  }

  #start(timeMs: number, gaugeMm: number, diameterMm: number, sigmaMm: number): void {
    this.#levelMm = this.#sumBefore / BEFORE;
    this.#side = Math.sign(diameterMm - this.#levelMm);
    this.#jumpMm = Math.abs(diameterMm - this.#levelMm);
    this.#sigmaMm = sigmaMm;
    this.#mostMm = Math.max(this.#jumpMm / STAYS_SHARE, this.#jumpMm + SIGMAS * sigmaMm);
    this.#jumpAtMm = this.#lastMm;
    this.#jumpTimeMs = timeMs;
    this.#readings = 0;
    this.#changes = 0;
    this.#near.clear();
    this.#early.clear();
    this.#late.clear();
    if (!(gaugeMm > this.#lastMm)) this.#jumpMm = 0;
  }

  #follow(gaugeMm: number, diameterMm: number): boolean {
    this.#readings++;
    if (diameterMm !== this.#last) this.#changes++;
    const beyondMm = this.#side * (diameterMm - this.#levelMm);
    if (this.#readings <= BEFORE) this.#near.add(beyondMm);
    const behindMm = gaugeMm - this.#jumpAtMm;
    const part = behindMm < LASTS_MM / 3 ? this.#early : this.#late;
    if (behindMm < LASTS_MM / 3 || behindMm > (2 * LASTS_MM) / 3) part.add(beyondMm);
    if (this.#readings === FIRST) this.#firstMm = this.#early.mean;
    if (this.#readings === FIRST && !this.#stays(this.#early, this.#jumpMm)) {
      // After a wrong reading the strand before it still counts, after the flank of a blob it does not.
      const behindFirst = (FIRST * this.#firstMm - this.#jumpMm) / (FIRST - 1);
      const noiseMm = LOOK_SIGMAS * this.#sigmaMm * Math.sqrt(1 / (FIRST - 1) + 1 / BEFORE);
      if (Math.abs(behindFirst) > Math.max(STEADY_SHARE * this.#jumpMm, noiseMm))
        return this.#giveUp(gaugeMm, diameterMm);
      this.#jumpMm = 0;
      return false;
    }
    if (behindMm < LASTS_MM) return false;
    const sizeMm = this.#near.mean;
    const changeMm = STAYS_SIGMAS * this.#strand.sigmaMm;
    const stays = this.#stays(this.#early, sizeMm, changeMm) && this.#stays(this.#late, sizeMm, changeMm);
    if (this.#changes < CHANGES || !stays || !this.#isSharp || !this.#standsOut)
      return this.#giveUp(gaugeMm, diameterMm);
    // It may just have gone: most of the last third will then be without it.
    if (beyondMm < STAYS_SHARE * sizeMm - changeMm) return false;
    this.#settle();
    this.#restart(gaugeMm, diameterMm);
    return true;
  }

  /** All of it came within one reading: the first readings after it are as high as the later ones. */
  get #isSharp(): boolean {
    const { mean } = this.#early;
    return Math.abs(this.#firstMm - mean) < Math.max(STEADY_SHARE * mean, 2 * this.#sigmaMm);
  }

  /** The strand itself does not change by as much from one lot of readings to the next. */
  get #standsOut(): boolean {
    return this.#near.mean > STRAND_SIGMAS * this.#strand.sigmaMm;
  }

  /**
   * @param sizeMm of the jump, as far as it is known
   * @param changeMm by which the strand may have changed since
   */
  #stays({ mean }: Part, sizeMm: number, changeMm = 0): boolean {
    return mean > Math.max(LEAST_MM, STAYS_SHARE * sizeMm) - changeMm && mean < this.#mostMm;
  }

  #giveUp(gaugeMm: number, diameterMm: number): boolean {
    this.#restart(gaugeMm, diameterMm);
    return false;
  }

  #settle(): void {
    const shift = this.shiftMm + this.#side * this.#early.mean;
    const isBack = Math.abs(shift) < BACK_SHARE * Math.abs(this.shiftMm);
    this.shiftMm = isBack ? 0 : shift;
    this.sinceMm = this.#jumpAtMm;
    this.sinceTimeMs = this.#jumpTimeMs;
  }

  #restart(gaugeMm: number, diameterMm: number): void {
    this.interrupt();
    this.#remember(gaugeMm, diameterMm);
  }
}

/** How much the means over `BEFORE` readings change from one to the next. */
class StrandChanges {
  #variance = FIRST_GUESS_MM ** 2;
  #counts = FIRST_GUESS_COUNTS;
  readonly #part = new Part();
  #last = Number.NaN;

  step(diameterMm: number): void {
    this.#part.add(diameterMm);
    if (this.#part.count < BEFORE) return;
    const { mean } = this.#part;
    const change = mean - this.#last;
    // A blob or a shift is no usual change.
    if (!Number.isNaN(change)) {
      if (this.#counts < MEMORY) this.#counts++;
      this.#variance += (Math.min(change * change, 9 * this.#variance) - this.#variance) / this.#counts;
    }
    this.#last = mean;
    this.#part.clear();
  }

  get sigmaMm(): number {
    return Math.sqrt(this.#variance);
  }
}

class Part {
  #sum = 0;
  #count = 0;

  clear(): void {
    this.#sum = 0;
    this.#count = 0;
  }

  add(mm: number): void {
    this.#sum += mm;
    this.#count++;
  }

  get count(): number {
    return this.#count;
  }

  get mean(): number {
    return this.#sum / this.#count;
  }
}
