/** Every fault that is planted. */
import { amounts } from './amounts.js';
import { beads } from './beads.js';
import type { Fault } from './fault.js';
import { order } from './order.js';
import { places } from './places.js';
import { turning } from './turning.js';
import { words } from './words.js';

export const faults: readonly Fault[] = [
  ...amounts,
  ...places,
  ...order,
  ...beads,
  ...words,
  ...turning,
];
