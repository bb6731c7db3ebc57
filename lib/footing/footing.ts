/**
 * Whether the part holds on to the table while it grows. Each body that stands there is judged in every
 * pose that it takes: while a region is built, under the head's push at any point of that region,
 * square to its direction, and under its own weight, of what was there before and of what is there
 * afterwards. A table that tilts lays region 1, with all that has grown on it, on its side for the
 * regions to come.
 *
 * Three figures have limits: what the first layer lays on the table (`regions.contact`), the tension
 * between it and the table (`regions.hold.table`), and the tension in the part just over it, or in the
 * columns of a pedestal (`regions.hold.stress`). `footprint.ts` has the formula. Weight counts where it
 * pulls and not where it presses, for sparse fill makes a part lighter than it looks. Sealed hollows
 * count as full. Accelerations, warping and collisions of the head with a curled edge are not
 * considered.
 *
 * One pass over the vertices of each region for each place of a foot's rim, 48 at most.
 */
import type { Place } from '../base/fault.js';
import { GRAVITY } from '../base/gravity.js';
import { type Vec3, scale } from '../base/vector.js';
import type { PolygonKernel } from '../kernel/polygon.js';
import type { Machine } from '../machine/machine.js';
import type { HoldRules } from '../regions/search/base-strength.js';
import type { Region } from '../regions/region.js';
import { type PrintedBody, growthOf, massTogether } from './growing-bodies.js';
import { type FootRules, type Layering, brimThatHolds, footOf, neckOf } from './feet.js';
import { type Footprint, BondedJoint, together } from './footprint.js';
import { gravityAlong } from './gravity-directions.js';

export interface FootingInput {
  /** In printing order. */
  readonly regions: readonly Region[];
  readonly machine: Machine;
  /** Layers of what stands on the table. */
  readonly layers: Layering;
  readonly beads: {
    /** Narrowest bead, mm. */
    readonly least: number;
    /** Width of the brim, mm. */
    readonly brim: number;
  };
  /** Least contact, mm2. */
  readonly contact: number;
  readonly hold: HoldRules & {
    /** Greatest tension between first layer and table, MPa. */
    readonly table: number;
  };
  /** Heights over the table at which the part itself must hold, mm. */
  readonly necks: readonly number[];
}

/** The greatest tension in a joint, MPa, and the region during which it comes. */
export interface Tension {
  readonly mpa: number;
  readonly region: number;
}

export interface Footing {
  /** The least that a body lays on the table with its first layer, mm2; what the brim adds is in it. */
  readonly contactMm2: number;
  /** Width by which the brim adds to what holds, mm. */
  readonly brimMm: number;
  /** How high over the table the underside of the first bead lies, mm; of the body where it is highest. */
  readonly firstBeadMm: number;
  /** Between the first layer and the table; undefined where nothing lies on it. */
  readonly table?: Tension;
  /** In the part over the first layer, or in the columns of its pedestal. */
  readonly neck?: Tension;
  /** What fails, worst first; empty if the part holds. */
  readonly failures: readonly FootingFailure[];
}

export interface FootingFailure {
  readonly code: string;
  readonly message: string;
  readonly at: Place;
}

export function judgeFooting(input: FootingInput, kernel: PolygonKernel): Footing {
  const { regions, hold, layers, contact } = input;
  const { bodies, groups } = growthOf(regions);
  const brimMm = brimThatHolds(input.beads.brim, layers.thickness[0]!, hold);
  const rules: FootRules = { least: input.beads.least, brim: brimMm };
  const standing = bodies.flatMap((body, id) =>
    regions[body.region]!.baseCut < 0
      ? [{ id, foot: footOf(body.mesh, layers, rules, kernel) }]
      : [],
  );
  const contactMm2 = least(standing.map(({ foot }) => foot.print.area));
  const firstBeadMm = Math.max(0, ...standing.map(({ foot }) => foot.under));
  const worst = (joints: readonly HeldBody[]): Tension | undefined =>
    worstTension(input, bodies, groups, joints);
  const table = worst(standing.map(({ id, foot }) => ({ id, print: foot.print })));
  const necks = input.necks.map((z) =>
    worst(standing.map(({ id }) => ({ id, print: neckOf(bodies[id]!.mesh, z, kernel) }))),
  );
  const neck = necks.reduce((a, b) => (!a || (b && b.mpa > a.mpa) ? b : a), undefined);
  const low = standing.find(({ foot }) => foot.print.area === contactMm2);
  return {
    contactMm2,
    brimMm,
    firstBeadMm,
    ...(table ? { table } : {}),
    ...(neck ? { neck } : {}),
    // Where next to nothing lies on the table the other figures add nothing.
    failures:
      contactMm2 < contact
        ? [tooSmall(input, contactMm2, bodies[low!.id]!, firstBeadMm)]
        : [
            ...(table && table.mpa > hold.table ? [peels(input, table)] : []),
            ...(neck && neck.mpa > hold.stress ? [breaks(input, neck)] : []),
          ],
  };
}

const least = (values: readonly number[]): number =>
  values.reduce((a, b) => Math.min(a, b), Infinity);

/** A body's joint to what is under it. */
interface HeldBody {
  readonly id: number;
  readonly print: Footprint;
}

/** Over all regions and groups of bodies that hold together. */
function worstTension(
  { regions, machine, hold }: FootingInput,
  bodies: readonly PrintedBody[],
  groups: readonly Int32Array[],
  held: readonly HeldBody[],
): Tension | undefined {
  let worst: Tension | undefined;
  regions.forEach(({ direction }, region) => {
    const group = groups[region]!;
    const pulls = gravityAlong(machine, direction);
    for (const root of new Set(held.flatMap(({ id }) => (id < group.length ? [group[id]!] : [])))) {
      const print = held
        .filter(({ id }) => group[id] === root)
        .map((h) => h.print)
        .reduce(together);
      if (!(print.area > 0)) continue;
      const joint = new BondedJoint(print);
      const own = bodies.filter((_, i) => group[i] === root);
      const grown = own.filter((b) => b.region === region);
      const push = greatest(grown.map((b) => joint.pushed(hold.force, direction, b.mesh.vertices)));
      for (const down of pulls) {
        const weights = [own.filter((b) => b.region < region), own].map((some) =>
          weightOn(joint, some, down, hold.density),
        );
        const at = (i: number): number =>
          (push?.[i] ?? 0) + Math.max(0, ...weights.map((w) => w?.[i] ?? 0));
        for (let i = 0; i < print.rim.length / 2; i++) {
          const mpa = at(i);
          if (!worst || mpa > worst.mpa) worst = { mpa, region };
        }
      }
    }
  });
  return worst;
}

/** The greatest of several at each place; the head is at one of them at a time. */
const greatest = (lists: readonly Float64Array[]): Float64Array | undefined =>
  lists.length === 0 ? undefined : lists.reduce((a, b) => a.map((x, i) => Math.max(x, b[i]!)));

function weightOn(
  joint: BondedJoint,
  bodies: readonly PrintedBody[],
  down: Vec3,
  density: number,
): Float64Array | undefined {
  if (bodies.length === 0) return undefined;
  const { volume, centre } = massTogether(bodies);
  return joint.tensions(scale(down, volume * density * 1e-6 * GRAVITY), centre);
}

function tooSmall(
  { contact }: FootingInput,
  mm2: number,
  { region, centre }: PrintedBody,
  firstBead: number,
): FootingFailure {
  const late = !Number.isFinite(firstBead)
    ? ': no layer of it is wide enough for a bead'
    : firstBead > 0
      ? `: its first layers are too narrow for a bead, and the first one would be laid ${firstBead.toFixed(2)} mm over the table, in the air`
      : '';
  return {
    code: 'footing/contact',
    message: `what stands on the table lays ${mm2.toFixed(2)} mm2 on it, the limit is ${contact} mm2 (regions.contact)${late}`,
    at: { region, point: [centre[0], centre[1], 0], frame: 'part' },
  };
}

const peels = ({ hold }: FootingInput, { mpa, region }: Tension): FootingFailure => ({
  code: 'footing/table',
  message: `while region ${region + 1} is printed the first layer pulls on the table with up to ${mpa.toFixed(2)} MPa, the limit is ${hold.table} MPa (regions.hold.table), by a push of ${hold.force} N (regions.hold.force) and the part's weight`,
  at: { region },
});

const breaks = ({ hold, necks }: FootingInput, { mpa, region }: Tension): FootingFailure => ({
  code: 'footing/neck',
  message: `while region ${region + 1} is printed the part bends at its foot (${necks.map((z) => z.toFixed(2)).join(' or ')} mm over the table) with up to ${mpa.toFixed(2)} MPa, the limit is ${hold.stress} MPa (regions.hold.stress), by a push of ${hold.force} N (regions.hold.force) and the part's weight`,
  at: { region },
});
