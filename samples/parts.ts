/** The parts of the irrigation workshop by name. A mesh from here stands on z = 0, millimetres. */
import type { Mesh, SolidKernel } from '../lib/index.js';
import { build as gutterElbow } from './gutter-elbow/part.js';
import { build as hoseManifold } from './hose-manifold/part.js';
import { build as sprinklerCap } from './sprinkler-cap/part.js';
import { build as trellisNode } from './trellis-node/part.js';
import { build as wateringRose } from './watering-rose/part.js';

export const parts = {
  'hose-manifold': hoseManifold,
  'sprinkler-cap': sprinklerCap,
  'gutter-elbow': gutterElbow,
  'trellis-node': trellisNode,
  'watering-rose': wateringRose,
} satisfies Record<string, (kernel: SolidKernel) => Mesh>;

export type PartName = keyof typeof parts;

export const partNames = Object.keys(parts) as PartName[];
