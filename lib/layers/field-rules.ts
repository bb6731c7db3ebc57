/** What the settings of a job ask of the field whose level sets are its layers. */
import { DEG } from '../base/vector.js';
import type { FieldRules } from '../field/plan-field.js';
import { type LayerRules, MOST_SHARE } from './rules.js';

/** Layer thickness is divided by the length of the field's gradient. */
export function fieldRulesOf(
  { thickness, curved }: Pick<LayerRules, 'thickness' | 'curved'>,
  { overhang, tilt }: { readonly overhang: number; readonly tilt: number },
  nozzleDiameter: number,
): FieldRules {
  const most = Math.min(curved.thickest, (MOST_SHARE * nozzleDiameter) / thickness);
  return {
    ...(curved.lattice !== undefined && { spacing: curved.lattice }),
    overhang: overhang * DEG,
    tilt: Math.min(curved.tilt, tilt) * DEG,
    lean: curved.lean * DEG,
    follow: curved.follow * DEG,
    stretch: [1 / most, 1 / curved.thinnest],
  };
}
