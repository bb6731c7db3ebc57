/**
 * What curved layers would leave of a part under each limit of the tilt, beside what flat regions leave: the same
 * simplified part, counted by facets too, in a field of its own for each limit (field/plan-field.ts). The head is that of
 * the machine, so low over the table it may tilt no farther than it does; joints are thought to reach the limit all the
 * way round. Layers that grow under a stricter limit grow under every laxer one, so each value takes the least of its
 * own and all stricter ones.
 */
import { Fault } from '../base/fault.js';
import { DEG } from '../base/vector.js';
import { type Watch, step } from '../base/watch.js';
import type { FieldRules, PlannedField } from '../field/plan-field.js';
import { fieldRulesOf } from '../layers/field-rules.js';
import type { Machine } from '../machine/machine.js';
import type { Mesh } from '../mesh/mesh.js';
import type { LayerRules } from '../layers/rules.js';
import type { RegionRules } from '../regions/rules.js';
import { type LimitPoint, type LimitSweep, NOTHING_LEFT } from './sweeps.js';

/** What a job says of regions and layers. */
export interface NeedsRules {
  readonly regions: RegionRules;
  readonly layers: LayerRules;
}

/** Grows the field of a part somewhere. */
export type GrowField = (mesh: Mesh, rules: FieldRules) => Promise<PlannedField>;

export interface CurvedTilts {
  /** At the values of the sweep of the tilt; where the part has no field, what is left under the stricter ones. */
  readonly points: readonly LimitPoint[];
  /** Why the part has no field at some limit, the strictest of them. */
  readonly refused?: string;
}

/** Farther than this curved layers are not tilted, deg. */
const MOST_GROWTH = 90;

/** @param flat the sweep of the tilt, strict to lax */
export async function curvedTilts(
  small: Mesh,
  machine: Machine,
  { regions, layers }: NeedsRules,
  { points: flat }: LimitSweep,
  grow: GrowField,
  watch?: Watch,
): Promise<CurvedTilts> {
  const asked = fieldRulesOf(layers, regions, machine.nozzle.diameter);
  const upright = flat[0]?.unsupportedMm2 ?? 0;
  const worth = upright > NOTHING_LEFT;
  let done = 0;
  step(watch, 'curved layers', 0, flat.length);
  const left = await Promise.all(
    flat.map(async ({ value }): Promise<number | Fault> => {
      // Layers that do not tilt are flat, and there is nothing to free.
      if (value === 0 || !worth) return upright;
      if (value > MOST_GROWTH) return Infinity;
      try {
        const tilt = value * DEG;
        const { hangingMm2 } = await grow(small, { ...asked, tilt, everyTilt: tilt });
        step(watch, 'curved layers', ++done, flat.length);
        return hangingMm2;
      } catch (error) {
        if (error instanceof Fault) return error;
        throw error;
      }
    }),
  );
  let least = Infinity;
  const points = flat.map(({ value }, i): LimitPoint => {
    const own = left[i]!;
    if (!(own instanceof Fault)) least = Math.min(least, own);
    return { value, unsupportedMm2: least };
  });
  const refused = left.find((x) => x instanceof Fault);
  return { points, ...(refused ? { refused: refused.message } : {}) };
}
