// Each folder of lib imports only from those above it in this list; pipeline and report see all of lib.
const stages = [
  'base',
  'kernel',
  'mesh',
  'machine',
  'overhang',
  'regions',
  'directions',
  'layers',
  'paths',
  'footing',
  'clearance',
  'order',
  'motion',
  'program',
  'verify',
  'calibrate',
  'drives',
  'budget',
  'pieces',
  'report',
];
const below = (i) => stages.slice(i + 1).join('|');
module.exports = {
  forbidden: [
    {
      name: 'no-cycle',
      comment: 'imports point one way',
      severity: 'error',
      from: {},
      to: { circular: true },
    },
    ...stages.slice(0, -1).map((s, i) => ({
      name: `${s}-looks-down`,
      comment: `lib/${s} may import only from folders above it in the list`,
      severity: 'error',
      from: { path: `^lib/${s}/` },
      to: { path: `^lib/(${below(i)})/|^lib/[^/]+\\.ts$` },
    })),
    {
      name: 'lib-stands-alone',
      comment: 'lib does no file, network or thread work',
      severity: 'error',
      from: { path: '^lib/' },
      to: { path: '^(worker|cli)/' },
    },
    {
      name: 'lib-no-io',
      comment: 'mesh readers take bytes; files, sockets and threads belong to worker and cli',
      severity: 'error',
      from: { path: '^lib/', pathNot: '^lib/kernel/wasm\\.ts$' },
      to: { dependencyTypes: ['core'] },
    },
    {
      name: 'page-is-for-browsers',
      comment: 'the page runs in a browser: no kernel, no threads, nothing of Node',
      severity: 'error',
      from: { path: '^lib/report/page/' },
      to: {
        path: '^lib/(kernel|mesh|regions|paths|motion)/|^lib/[^/]+\\.ts$',
        dependencyTypesNot: ['type-only'],
      },
    },
    {
      name: 'page-stays-in-the-page',
      comment: 'code for browsers is bundled by itself and imported by nothing else',
      severity: 'error',
      from: { path: '^(lib|worker|cli)/', pathNot: '^lib/report/page/' },
      to: { path: '^lib/report/page/' },
    },
    {
      name: 'worker-not-cli',
      comment: 'the service does not know its command line',
      severity: 'error',
      from: { path: '^worker/' },
      to: { path: '^cli/' },
    },
    {
      name: 'kernel-alone-has-wasm',
      comment: 'WASM handles never leave lib/kernel',
      severity: 'error',
      from: { path: '^(lib|worker|cli)/', pathNot: '^lib/kernel/' },
      to: { path: 'node_modules/(manifold-3d|clipper2-wasm|clipper2-js)/' },
    },
    {
      name: 'verify-is-independent',
      comment:
        'the check shares no planning code: no inverse, no regions, layers, paths, clearance, order or motion',
      severity: 'error',
      from: { path: '^lib/verify/' },
      to: {
        path: '^lib/(overhang|regions|layers|paths|clearance|order|motion)/|^lib/machine/inverse',
      },
    },
    {
      name: 'pool-in-worker',
      comment: 'threads belong to worker',
      severity: 'error',
      from: { path: '^(lib|cli)/' },
      to: { path: 'node_modules/piscina/' },
    },
  ],
  options: {
    doNotFollow: { path: 'node_modules' },
    tsPreCompilationDeps: true,
    tsConfig: { fileName: 'tsconfig.json' },
    enhancedResolveOptions: {
      exportsFields: ['exports'],
      conditionNames: ['import', 'node', 'default'],
      extensions: ['.ts', '.js', '.json'],
    },
  },
};
