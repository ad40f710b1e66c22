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
    'Strand that would spoil a print: blobs, thin spots, stretches out of tolerance (and strand beside them that may be bad too), and what you marked to be discarded. It is counted from the start to the end of each stretch, without margins.',
  doubtful:
    'Strand that the gauge can call neither good nor bad: too near to a limit, or seen by too few readings. Look at it, or cut it out to be safe.',
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
    'The length of the strand’s path from the gauge to the spool. Strand is measured before it is wound, so every place on the spool is found with this length.',
  sigma:
    'The standard deviation: how widely the diameter scatters about its mean. Of ordinary strand, about two thirds are within one σ of the mean and 95 % within two.',
  capability:
    'Whether the line can keep the tolerance: how many times its spread fits into the tolerance. Above 1.33 there is room to spare; below 1 some strand is bound to be out of tolerance.',
  flow: 'How much plastic the strand brings, compared with strand of the nominal diameter. Thick strand overfills the print and thin strand underfills it, unless the printer’s flow setting makes up for it.',
  priority:
    'How soon an alarm needs you: high at once, medium within some minutes, low when you pass by. The priority decides its sound, its colour and who is notified.',
  alarmDelay:
    'How long the cause must last before the alarm is raised. A longer delay leaves out what passes quickly, but you learn of the rest later.',
  deadband:
    'How far a value must be back on the good side of its limit before the alarm clears. Without it a value at the limit would raise the alarm again and again.',
  silenced:
    'A silenced alarm neither sounds nor sends messages until the time that you set. If its cause is still there then, it is raised again.',
  escalation:
    'If no one acknowledges an alarm, the next person is notified, and then the next. It ends when someone acknowledges, wherever that is.',
  alarmTest:
    'A message that you ask for, to see that the real ones arrive. Each person confirms it with one tap; whoever does not is listed as not reached.',
  heartbeat:
    'A request that Strandward sends to another service while it runs. If the requests stop, that service can warn you, even if this computer is off.',
} as const;

export type TermName = keyof typeof GLOSSARY;
