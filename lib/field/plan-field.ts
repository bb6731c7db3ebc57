/**
 * The field of a part on a machine: grown from the height and from the distance to the footprint, each again where
 * the head would stand in what was printed before (head-room.ts), the better of the two kept. Neither start wins
 * everywhere: the distance leaves least hanging but knows nothing of the head, the height keeps more of the part in
 * its sight (judge.ts says in which order they are compared). The better is laid flat, the other only where its
 * layers fold over; if both do, the part has no field.
 */
import { Fault } from '../base/fault.js';
import type { Mesh } from '../base/mesh.js';
import type { Watch } from '../base/watch.js';
import { clearanceAt, headRadius, headTop, leastTipHeight } from '../machine/head.js';
import type { Machine } from '../machine/machine.js';
import { reachOf } from '../machine/reachable-directions.js';
import { distanceFrom, footprintSources } from './distance.js';
import { type FieldMap, grownOf } from './field-map.js';
import { growerOf } from './growth.js';
import { type FreePlace, askedOf, freePlaces } from './head-room.js';
import type { GrowthRules } from './growth-rules.js';
import { fittedSpacing } from './fit-lattice.js';
import { type HeadOutline, type JudgedField, better, judgeField, tryHead } from './judge.js';
import { latticeOf } from './lattice.js';
import { layFlat } from './lay-flat.js';
import { tiltOverTable } from '../machine/tilt-over-table.js';

/** What is asked of the layers of a field; plain data, so that the work may be done on another thread. */
export interface FieldRules {
  /** Edge of a cube of the lattice, mm; left out: as fine as the part's walls ask for. */
  readonly spacing?: number;
  /** Steepest self-supporting angle from the direction of growth, rad. */
  readonly overhang: number;
  /** Greatest tilt that the user allows, rad. */
  readonly tilt: number;
  /** Up to this tilt every direction is within reach, rad; left out: as the joints of the machine have it. */
  readonly everyTilt?: number;
  /** How far the head may lean from the direction of growth, rad. */
  readonly lean: number;
  /** Skin within this of level is followed, rad; 0 for none. */
  readonly follow: number;
  /** Least and greatest length of the field's gradient: layer thickness is divided by it. */
  readonly stretch: readonly [number, number];
}

export interface PlannedField extends JudgedField {
  readonly map: FieldMap;
  readonly start: 'height' | 'distance';
}

/** A field that is not laid flat yet. */
interface GrownFrom {
  readonly start: PlannedField['start'];
  readonly values: Float64Array;
  readonly judged: JudgedField;
}

/** Depth of the footprint's nodes under the lowest skin, as a share of the spacing. */
const FOOTPRINT_SHARE = 0.25;
/** Step of the head's outline, mm. */
const OUTLINE_STEP = 0.25;
/** So often a field is grown again where the head would stand in what was printed before. */
const HEAD_ROUNDS = 3;
/** Turns of a local and a global step then: it begins near where it ends. */
const REGROWN_ROUNDS = 12;

/**
 * @throws Fault `field/too-fine`, `field/unresolved`; `field/turned-over` or `field/overlap` where neither start
 *   gives layers that can be laid flat
 */
export function planField(
  mesh: Mesh,
  machine: Machine,
  rules: FieldRules,
  watch?: Watch,
): PlannedField {
  const lattice = latticeOf(mesh, rules.spacing ?? fittedSpacing(mesh));
  const growth = growthRulesFor(machine, rules);
  const head = headOutlineOf(machine, rules.lean);
  const n = lattice.nodes.length / 3;
  const height = Float64Array.from({ length: n }, (_, i) => lattice.nodes[3 * i + 2]!);
  const distance = distanceFrom(lattice, footprintSources(lattice, FOOTPRINT_SHARE));
  const grow = growerOf(lattice, distance, growth);
  const grown = (start: PlannedField['start'], from: Float64Array): GrownFrom => {
    let { values } = grow(from, { watch });
    const places: FreePlace[] = [];
    let best: GrownFrom | undefined;
    for (let round = 0; ; round++) {
      const map = grownOf(lattice, values);
      const tries = tryHead(map, head);
      const judged = judgeField(map, growth, head, tries);
      if (!best || better(judged, best.judged)) best = { start, values, judged };
      const hidden = round < HEAD_ROUNDS ? freePlaces(map, growth, head, tries) : [];
      if (hidden.length === 0) return best;
      places.push(...hidden);
      const asked = askedOf(map, places);
      const again = { rounds: REGROWN_ROUNDS, asked, watch };
      values = grow(values, again).values;
    }
  };
  const fields = [grown('height', height), grown('distance', distance)] as const;
  const [first, second] = better(fields[1].judged, fields[0].judged)
    ? ([fields[1], fields[0]] as const)
    : fields;
  const laidFlat = ({ start, values, judged }: GrownFrom): PlannedField => ({
    map: layFlat(lattice, values, watch),
    start,
    ...judged,
  });
  try {
    return laidFlat(first);
  } catch (error) {
    if (!(error instanceof Fault)) throw error;
    return laidFlat(second);
  }
}

/** The rules of growth on a machine: how far it tilts, all the way round, with the tip at a height. */
function growthRulesFor(machine: Machine, rules: FieldRules): GrowthRules {
  const most = Math.min(rules.tilt, rules.everyTilt ?? reachOf(machine).everyTilt);
  return {
    ...rules,
    mostTilt: tiltOverTable((tilt) => leastTipHeight(machine, tilt), most),
  };
}

/**
 * The head turned round its axis, with the distance that each height of it keeps and as far as it comes out as it
 * leans: a table, for it is asked often.
 */
function headOutlineOf(machine: Machine, lean: number): HeadOutline {
  const top = headTop(machine);
  const kept = (above: number): number => {
    const radius = headRadius(machine, above);
    return radius > 0 ? radius + clearanceAt(machine, above) + above * Math.sin(lean) : 0;
  };
  const radii = Float64Array.from({ length: Math.ceil(top / OUTLINE_STEP) + 2 }, (_, i) =>
    kept(i * OUTLINE_STEP),
  );
  return {
    top,
    radiusAt: (above) => {
      const i = Math.max(0, Math.floor(above / OUTLINE_STEP));
      return Math.max(radii[i] ?? 0, radii[i + 1] ?? 0);
    },
  };
}
