/**
 * What one input may ask for. A few bytes can ask for work without end: a turn of a million revolutions,
 * a component placed in components a thousand times over, an arc that is no end of pieces. Each reader
 * holds what an input asks for against these bounds before it does the work, and refuses with a Fault
 * that names place, value, limit and unit. All are far beyond what a printed part needs; where the
 * input is as long as what it asks for (a mesh of ten million facets, a program of ten million blocks),
 * nothing is bounded, for its size says what is coming.
 */
export const BOUNDS = {
  /** A file that is read, bytes: beyond it Node holds neither a buffer nor a string of it. */
  fileBytes: 2 ** 31 - 1,
  textBytes: 2 ** 29 - 2 ** 16,

  /** 3MF, GLB, STEP: triangles and placed objects once components are expanded, and how deep components nest. */
  triangles: 20_000_000,
  instances: 10_000,
  componentDepth: 100,
  /** A packed part, bytes unpacked: up to the first figure any, beyond it so many of one packed byte. */
  unpackedBytes: 64 * 2 ** 20,
  unpackedRatio: 200,
  /** STEP: how many deviations a body may be across, and memory of the kernel that reads it. */
  stepDeviations: 200_000,
  stepMemoryBytes: 2 ** 30,
  /** Pairs of shells of a mesh whose boxes overlap: each is looked at facet by facet. */
  shellPairs: 200_000,

  /** Program: size of any number in a word or a parameter. */
  number: 1e9,
  /** Place of a linear joint, and filament metered in a block, mm. */
  reachMm: 10_000,
  /** Place of a rotary joint, turns; and the way that it turns in a block. */
  turns: 100_000,
  blockTurns: 20,
  /** Time of a block, s: a day. */
  blockSeconds: 86_400,
  /** Straight pieces of all arcs, and steps of a degree of all turns. */
  arcPieces: 4_000_000,
  turnSteps: 50_000_000,

  /** Machine: surface of one solid of it, mm2; points a few millimetres apart stand for it. */
  solidMm2: 10e6,
  /** Farthest reach of the head from its axis, mm: the check spreads each map cell over such a disc. */
  headMm: 300,

  /** Check: cells of the map of heights while the head keeps its direction. */
  mapCells: 32_000_000,
  /** Bricks of 8 x 8 x 8 cubes that hold material. */
  bricks: 4_000_000,
  /** Samples over the surface of the part. */
  surfaceSamples: 10_000_000,
  /** Width of a bead that is laid in the computer, in bores of the nozzle. */
  beadBores: 10,
  /** Edge of the finest cube, mm. */
  finestMm: 0.01,
} as const;
