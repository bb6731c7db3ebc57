/**
 * Whether a straight joint move keeps every pair of a scene clear for its whole length: by swept bodies
 * where the rotary joints stand still, by conservative advancement where they turn. Joint travel is checked
 * first.
 */
import { firstClose } from '../../clearance/convex/conservative-advancement.js';
import type { ClearancePair } from '../../clearance/convex/conservative-advancement.js';
import { mostMoved } from '../../clearance/machine-bodies.js';
import {
  GAP_ROUNDING,
  type Scene,
  type Setting,
  comesNear,
  pairsOf,
  withTip,
} from '../../clearance/scene.js';
import { jointsOf } from '../../machine/joint-chain.js';
import { RADIAN } from '../timing/path-limits.js';
import { straight } from './translation.js';
import { spell, violationsOf } from './travel-limits.js';

/** Why a move cannot be made. */
export interface MoveTrouble {
  readonly words: string;
  readonly kind: 'travel' | 'near';
}

/**
 * What a rounded corner takes of a gap beyond what it takes at the tip, mm: a rotary joint strays by no
 * more than the tip may at a lever of RADIAN, and bodies reach farther from its axis than that.
 */
function swing({ machine, rounding }: Setting, { body, things }: ClearancePair): number {
  const at = machine.ready;
  const levers = jointsOf(machine, 'rotary').map((j) => {
    const turned = at.map((v, i) => (i === j ? v + 1 : v));
    return mostMoved(machine, body, at, turned) + mostMoved(machine, things, at, turned);
  });
  return rounding * Math.max(0, Math.max(...levers) / RADIAN - 1);
}

export class ClearMove {
  readonly scene: Scene;
  readonly #share: number;
  /** Pairs during travel and over the base of each region; the pair that obstructed last stands first. */
  readonly #pairs = new Map<number | undefined, ClearancePair[]>();

  /** @param share of the clearance that is kept */
  constructor(scene: Scene, share = 1) {
    this.scene = scene;
    this.#share = share;
  }

  /**
   * What stands in the way of the straight move from a to b; undefined if nothing does.
   * @param over the region over whose beads or base the tip leaves or comes down, -1 where there is none
   *   yet; left out during travel, where the tip keeps clear too
   */
  trouble(a: Float64Array, b: Float64Array, over?: number): MoveTrouble | undefined {
    const { machine } = this.scene.setting;
    const violation = violationsOf(machine, b)[0];
    if (violation) return { words: spell(machine, violation), kind: 'travel' };
    const pairs = this.#pairsOver(over);
    for (let i = 0; i < pairs.length; i++) {
      const pair = pairs[i]!;
      if (!this.#close(pair, a, b)) continue;
      pairs.splice(i, 1);
      pairs.unshift(pair);
      return { words: comesNear(pair), kind: 'near' };
    }
    return undefined;
  }

  #pairsOver(over: number | undefined): ClearancePair[] {
    const known = this.#pairs.get(over);
    if (known) return known;
    const { bodies } = this.scene.setting;
    const all = pairsOf(this.scene, over ?? -1, true).map((pair) => ({
      ...pair,
      need: pair.need * this.#share,
    }));
    const pairs = over === undefined ? withTip(all, bodies) : all;
    this.#pairs.set(over, pairs);
    return pairs;
  }

  #close(pair: ClearancePair, a: Float64Array, b: Float64Array): boolean {
    const { machine, search, still } = this.scene.setting;
    const turns = machine.joints.some((j, i) => j.kind === 'rotary' && a[i] !== b[i]);
    if (turns) {
      const need = pair.need + swing(this.scene.setting, pair);
      return !!firstClose(machine, search, { ...pair, need }, a, b, still);
    }
    const both = new Float64Array(2 * a.length);
    both.set(a);
    both.set(b, a.length);
    const { body, things, until } = pair;
    const move = straight(machine, body, things, both, a.length);
    const within = pair.need - GAP_ROUNDING;
    if (!move.comesWithin(body.things, things.things, within)) return false;
    return !!search.least({
      body: body.things,
      path: move.path(),
      things: things.things,
      frame: move.frame,
      ...(until !== undefined && { until }),
      within,
      // Any distance below what is asked is one too many.
      accuracy: 1,
    });
  }
}
