/** What a new maker may not know, in two plain sentences. The handbook repeats some of them word for word; a test compares. */
export const GLOSSARY = {
  tolerance:
    'How far the diameter may be from the nominal one, either way. Strand beyond it still prints, but with too much or too little plastic.',
  hotendLimit:
    'The thickest strand that passes the printer’s hotend. A blob thicker than this jams it in the middle of a print.',
  smallestFeedable:
    'The thinnest strand that the printer’s drive gear still grips. At a thinner spot the gear slips, and the print gets no plastic.',
  outOfRound:
    'The difference between the two diameters at one place, measured across each other. Flattened strand feeds unevenly, even where its mean diameter is right.',
  gaugeUncertainty:
    'How far all readings of the gauge may be off together. A place counts as too thick or too thin only if the reading is beyond the limit by more than this.',
  badStrand:
    'Strand that would spoil a print: blobs, thin spots, stretches out of tolerance, and what you marked to be discarded. It is counted from the start to the end of each stretch, without margins.',
  doubtful:
    'Strand of which the gauge cannot tell whether it is good: too near to a limit, or seen by too few readings. Look at it, or cut it out to be safe.',
  notMeasured: 'Strand that passed the gauge while no usable reading arrived. It may be good, but that is not known.',
  cleanPiece:
    'The longest piece without anything bad, doubtful or not measured. The longest print that you can start without cutting is as long as this.',
  cutList:
    'What to keep and what to discard at the rewinder, step by step. It starts at the outer end of the spool, which comes off first.',
  coil: 'A piece of a spool that you keep after cutting. It gets its own name, label and verdict.',
  margin:
    'Good strand that is cut away on both sides of a bad stretch, because no counter is exact. It grows with the length that you count, and shrinks when you confirm a landmark.',
  landmark:
    'A place that you can see or feel, such as a blob, and that the cut list names. When you confirm it as it passes, the count is exact again there.',
  soak: 'How long the zones stay at temperature before the screw may turn. The plastic inside melts later than the sensors get hot, and a cold plug can break the screw.',
  settled:
    'The strand has stayed within tolerance for long enough to be worth winding. Until then it is purged: pulled off and thrown away.',
  gaugeToWinder:
    'The way of the strand from the gauge to the spool, along its path. Strand is measured before it is wound, so every place on the spool is found with this length.',
  sigma:
    'The standard deviation: how widely the diameter scatters about its mean. Of ordinary strand, about two thirds are within one σ of the mean and 95 % within two.',
  capability:
    'Whether the line can keep the tolerance: how often its spread fits into it. Above 1.33 there is room to spare; below 1 some strand is bound to be out of tolerance.',
  flow: 'How much plastic the strand brings, compared with strand of the nominal diameter. Thick strand overfills the print and thin strand underfills it, unless the printer’s flow setting makes up for it.',
} as const;

export type TermName = keyof typeof GLOSSARY;
