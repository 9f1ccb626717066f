/**
 * The rooms of src/ in the order of the data: a room may import from those before it, never from those after it.
 * ui, cli and workers are the shells; nothing imports them.
 */
const rooms = [
  'base',
  'geometry',
  'sheet',
  'picture',
  'vision',
  'view',
  'outline',
  'check',
  'pocket',
  'plan',
  'seat',
  'artwork',
  'after',
  'files',
  'job',
];

module.exports = {
  forbidden: [
    ...rooms.map((room, k) => ({
      name: `${room}-imports-only-rooms-above`,
      severity: 'error',
      from: { path: `^src/${room}/` },
      to: { path: `^(workers/|src/(${[...rooms.slice(k + 1), 'ui', 'cli'].join('|')})/)` },
    })),
    {
      name: 'shells-are-ends',
      severity: 'error',
      from: { path: '^src/ui/' },
      to: { path: '^src/cli/' },
    },
    {
      name: 'no-circles',
      severity: 'error',
      from: {},
      to: { circular: true, viaOnly: { dependencyTypesNot: ['type-only'] } },
    },
    {
      name: 'opencv-only-in-vision',
      severity: 'error',
      from: { pathNot: '^src/vision/' },
      to: { path: 'opencv-wasm' },
    },
  ],
  options: {
    doNotFollow: { path: 'node_modules' },
    tsPreCompilationDeps: true,
    tsConfig: { fileName: 'tsconfig.json' },
    enhancedResolveOptions: { extensions: ['.ts', '.js', '.svelte', '.json'] },
  },
};
