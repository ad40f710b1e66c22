// The arrows of the house, checked by `npm run check`.
const PURE =
  '^server/(entities|preparation|reading|proposal|probability|strand|stock|nights|heat|stage|alarm|escalation|problem)/';

/** @type {import('dependency-cruiser').IConfiguration} */
module.exports = {
  forbidden: [
    { name: 'no-circles', severity: 'error', from: {}, to: { circular: true } },
    {
      name: 'pure-rooms-import-only-pure-rooms',
      comment: 'they know no I/O, no clock and no outer room',
      severity: 'error',
      from: { path: PURE },
      to: { pathNot: [PURE, 'node_modules/simple-statistics', 'node_modules/fft\\.js', 'node_modules/ml-matrix'] },
    },
    {
      name: 'reading-looks-at-nobody',
      severity: 'error',
      from: { path: '^server/reading/' },
      to: { pathNot: '^server/(reading|problem)/' },
    },
    {
      name: 'strand-and-heat-do-not-know-each-other',
      comment: 'what follows from both belongs in stage and alarm, shared mathematics in probability',
      severity: 'error',
      from: { path: '^server/(strand|heat)/' },
      to: { path: PURE, pathNot: '^server/($1|reading|probability|problem|preparation)/' },
    },
    {
      name: 'probability-looks-at-nobody',
      severity: 'error',
      from: { path: '^server/probability/' },
      to: { pathNot: ['^server/probability/', 'node_modules/simple-statistics'] },
    },
    {
      name: 'monitor-knows-ports-not-adapters',
      severity: 'error',
      from: { path: '^server/monitor/' },
      to: { path: '^server/(store|notify|api|source|main|assembly)', pathNot: '^server/source/source\\.ts$' },
    },
    {
      name: 'adapters-do-not-know-each-other',
      severity: 'error',
      from: { path: '^server/(store|notify|api|source)/' },
      to: { path: '^server/(store|notify|api|source)/', pathNot: '^server/$1/' },
    },
    {
      name: 'only-main-knows-where-recordings-are-replayed',
      comment: 'it puts a whole line together once more, in a record of its own',
      severity: 'error',
      from: { pathNot: '^(server/(main\\.ts|assembly\\.ts|recording/)|tests/)' },
      to: { path: '^server/recording/' },
    },
    {
      name: 'only-main-knows-every-part',
      severity: 'error',
      from: { pathNot: '^(tests/|server/main\\.ts$)' },
      to: { path: '^server/(main|assembly)\\.ts$' },
    },
    {
      name: 'identity-knows-no-adapter',
      comment: 'who may use the service is decided without knowing how it is asked or stored',
      severity: 'error',
      from: { path: '^server/identity/' },
      to: { path: '^server/', pathNot: '^server/(identity|entities|problem|settings)/' },
    },
    {
      name: 'front-knows-the-contract-only',
      comment: 'it reads what other services send, and knows none of the parts that watch this line',
      severity: 'error',
      from: { path: '^server/front/' },
      to: { path: '^server/', pathNot: '^server/(front|problem|strand|api/contract)/' },
    },
    {
      name: 'collection-knows-the-contract-only',
      comment: 'it asks the service of a line, as any other program could',
      severity: 'error',
      from: { path: '^server/collection/' },
      to: { path: '^server/', pathNot: '^server/(collection|problem|preparation|api/contract)/' },
    },
    {
      name: 'certificate-knows-no-other-part',
      severity: 'error',
      from: { path: '^server/certificate/' },
      to: { path: '^server/', pathNot: '^server/(certificate|problem|settings|worker)/' },
    },
    {
      name: 'settings-know-no-adapter',
      severity: 'error',
      from: { path: '^server/settings/' },
      to: { path: '^server/(store|notify|api|source|monitor)/' },
    },
    {
      name: 'web-imports-only-types-and-pure-rooms',
      severity: 'error',
      from: { path: '^web/' },
      to: { path: '^(server|simulator|tests)/', pathNot: PURE, dependencyTypesNot: ['type-only'] },
    },
    {
      name: 'folders-of-web-do-not-need-each-other',
      comment: 'a piece that two of them share goes to the lower one, or to a folder of its subject',
      scope: 'folder',
      severity: 'error',
      from: { path: '^web/' },
      to: { circular: true, path: '^web/' },
    },
    {
      name: 'the-simulator-shares-only-the-names',
      comment: 'it must not share detection code with what it tests',
      severity: 'error',
      from: { path: '^simulator/' },
      to: { path: '^(server|web|tests)/', pathNot: '^server/reading/names\\.ts$' },
    },
    {
      name: 'only-the-simulated-source-runs-the-simulator',
      comment: 'as a part of the service; main.ts starts it as a command (`strandward simulate`), see below',
      severity: 'error',
      from: { path: '^server/', pathNot: '^server/(source/simulated-source|main\\.ts$)' },
      to: { path: '^simulator/' },
    },
    {
      name: 'main-starts-the-simulator-only-as-a-command',
      comment:
        'by its own door, which takes the arguments as they are; the import is dynamic, so watching never loads it',
      severity: 'error',
      from: { path: '^server/main\\.ts$' },
      to: { path: '^simulator/', pathNot: '^simulator/command/simulate\\.ts$' },
    },
    {
      name: 'main-loads-the-simulator-only-when-asked',
      severity: 'error',
      from: { path: '^server/main\\.ts$' },
      to: { path: '^simulator/', dependencyTypesNot: ['dynamic-import'] },
    },
    {
      name: 'only-main-reads-the-command-line',
      severity: 'error',
      from: { path: '^server/', pathNot: '^server/(main\\.ts$|command/)' },
      to: { path: '^server/command/' },
    },
    {
      name: 'the-command-line-knows-only-settings',
      comment: 'it says what was asked for; main.ts does it',
      severity: 'error',
      from: { path: '^server/command/' },
      to: {
        path: '^(server|simulator|web)/',
        pathNot: '^server/(command|entities|settings|problem|version|monitor/log)',
      },
    },
    { name: 'nothing-imports-tests', severity: 'error', from: { pathNot: '^tests/' }, to: { path: '^tests/' } },
    {
      name: 'no-orphans',
      severity: 'error',
      from: { orphan: true, pathNot: ['\\.d\\.ts$', 'vite\\.config\\.ts$', '^web/.*worker\\.[jt]s$'] },
      to: {},
    },
  ],
  options: {
    doNotFollow: { path: 'node_modules' },
    exclude: { path: ['\\.json$', '\\.build'] },
    tsConfig: { fileName: 'tsconfig.json' },
    tsPreCompilationDeps: true,
    skipAnalysisNotInRules: true,
  },
};
