const RUN_RULES = ['beyond3Sigma', 'twoOfThreeBeyond2Sigma', 'fourOfFiveBeyond1Sigma', 'eightOnOneSide'] as const;
type RunRule = (typeof RUN_RULES)[number];

export interface RunSignal {
  readonly index: number;
  readonly rule: RunRule;
  readonly side: 'high' | 'low';
}

/**
 * Western Electric rules on a chart of individuals: one value beyond 3σ; two of three beyond 2σ on the same side; four of
 * five beyond 1σ on the same side; eight in a row on one side of the centre (Western Electric Statistical Quality Control
 * Handbook, 1956, as reproduced in NIST/SEMATECH e-Handbook 6.3.2).
 *
 * They find small shifts sooner but raise more false alarms: with independent values one in about 92 values instead of 370
 * (Champ & Woodall 1987, from memory), with correlated ones far more. The signal is at the value that completes a pattern,
 * which must itself be beyond the rule's bound. A gap (NaN) restarts every rule.
 */
export function runSignals(values: ArrayLike<number>, centre: number, sigma: number): readonly RunSignal[] {
  if (!(sigma > 0)) throw new RangeError(`run rules need a spread above zero, not ${sigma}`);
  const signals: RunSignal[] = [];
  let start = 0;
  for (let i = 0; i < values.length; i++) {
    if (!Number.isFinite(values[i]!)) {
      start = i + 1;
      continue;
    }
    for (const side of ['high', 'low'] as const) {
      const sign = side === 'high' ? 1 : -1;
      const beyond = (bound: number, window: number): number => {
        let count = 0;
        for (let j = Math.max(start, i - window + 1); j <= i; j++)
          if ((sign * (values[j]! - centre)) / sigma > bound) count += 1;
        return count;
      };
      if (beyond(3, 1) === 1) signals.push({ index: i, rule: 'beyond3Sigma', side });
      if (beyond(2, 1) === 1 && beyond(2, 3) >= 2) signals.push({ index: i, rule: 'twoOfThreeBeyond2Sigma', side });
      if (beyond(1, 1) === 1 && beyond(1, 5) >= 4) signals.push({ index: i, rule: 'fourOfFiveBeyond1Sigma', side });
      if (beyond(0, 8) === 8) signals.push({ index: i, rule: 'eightOnOneSide', side });
    }
  }
  return signals;
}
