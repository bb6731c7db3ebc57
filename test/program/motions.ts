/** Motions for tests of program and check: from plain blocks, or random from a seed. */
import type { Random } from '../../lib/base/random.js';
import type { Machine } from '../../lib/machine/machine.js';
import type { Material } from '../../lib/machine/material.js';
import { readMaterial } from '../../lib/machine/read-files.js';
import { type Motion, MoveKind } from '../../lib/motion/motion.js';
import { tipLength } from '../../lib/program/tip.js';

export interface BlockOf {
  readonly joints: readonly number[];
  readonly seconds: number;
  readonly filament?: number;
  readonly kind?: keyof typeof MoveKind;
  readonly region?: number;
  readonly layer?: number;
}

export function motionOf(
  machine: Machine,
  from: readonly number[],
  blocks: readonly BlockOf[],
): Motion {
  const n = machine.joints.length;
  const before = (b: number) => (b ? blocks[b - 1]!.joints : from);
  return {
    jointCount: n,
    from: Float64Array.from(from),
    joints: Float64Array.from(blocks.flatMap((b) => b.joints)),
    kind: Uint8Array.from(blocks, (b) => MoveKind[b.kind ?? 'deposit']),
    filament: Float64Array.from(blocks, (b) => b.filament ?? 0),
    seconds: Float64Array.from(blocks, (b) => b.seconds),
    length: Float64Array.from(blocks, (b, i) => tipLength(machine, before(i), b.joints)),
    region: Uint32Array.from(blocks, (b) => b.region ?? 0),
    layer: Uint32Array.from(blocks, (b) => b.layer ?? 0),
    pathKind: new Uint8Array(blocks.length),
    lasts: Float64Array.from(blocks, (b) => b.seconds),
    totalSeconds: blocks.reduce((sum, b) => sum + b.seconds, 0),
    paceShare: { joints: new Float64Array(n), flow: 0, asked: 0, layerTime: 0, filament: 0 },
    asked: {
      start: Uint32Array.from({ length: blocks.length + 1 }, (_, b) => b),
      least: Float64Array.from(blocks, (b) => b.seconds),
    },
  };
}

/** Blocks as a five-axis job has them: straight runs, turns, both together, filament alone. */
export function randomMotion(machine: Machine, random: Random, count: number): Motion {
  const at = machine.joints.map((j) => (j.kind === 'linear' ? 50 * random() : random()));
  const from = [...at];
  const blocks: BlockOf[] = [];
  for (let b = 0; b < count; b++) {
    const layer = Math.floor((b * 5) / count);
    const what = random();
    const size = 10 ** (-4 + 5 * random());
    if (what < 0.05) {
      const fed = (random() - 0.5) * 4;
      blocks.push({ joints: [...at], seconds: 0.1, filament: fed, kind: 'filament', layer });
      continue;
    }
    machine.joints.forEach((j, i) => {
      const moves = j.kind === 'linear' ? what < 0.7 || what > 0.8 : what > 0.6;
      if (!moves || random() < 0.2) return;
      const step = (random() - 0.5) * 2 * size * (j.kind === 'linear' ? 1 : 0.02);
      at[i] = Math.max(-60, Math.min(60, at[i]! + step));
    });
    const seconds = 0.002 + size * random();
    blocks.push({ joints: [...at], seconds, filament: size * 0.03 * random(), layer });
  }
  return motionOf(machine, from, blocks);
}

export const pla = (change: Record<string, unknown> = {}): Material =>
  readMaterial({
    name: 'PLA',
    density: 1.24,
    nozzleTemperature: 210,
    tableTemperature: 60,
    flow: { least: 0.2, most: 12 },
    fan: 1,
    leastLayerSeconds: 5,
    ...change,
  });
