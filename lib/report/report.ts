/**
 * report.json: the figures of a job, from every stage's record. Degrees and millimetres, as people read
 * them. Estimates are called estimates; nothing is left out because it is unwelcome.
 */
import { type Finding, shownFinding } from '../base/fault.js';
import { LONGEST_MESSAGE, printable } from '../base/printable.js';
import { DEG, type Vec3 } from '../base/vector.js';
import type { FirstBead } from '../footing/first-beads.js';
import type { Footing } from '../footing/footing.js';
import type { LayerHanging, HangingPlace, LayerPlace } from '../layers/unsupported.js';
import type { Machine } from '../machine/machine.js';
import type { Material } from '../machine/material.js';
import { type Sense, VIEW, sensesOf } from '../machine/sense.js';
import { bounds, massOf, surfaceArea } from '../mesh/measure.js';
import type { Mesh } from '../mesh/mesh.js';
import type { LeastGap } from '../motion/lay/check-clearance.js';
import { type Motion, MoveKind, filamentTaken } from '../motion/motion.js';
import { filamentArea } from '../paths/bead.js';
import type { RegionPlan } from '../regions/plan-regions.js';
import type { Region } from '../regions/region.js';
import type { RegionRules } from '../regions/rules.js';
import type { RegionAir } from './air.js';
import type { ProgramCheck } from '../verify/verify.js';
import type { ErrorFigures } from './error-words.js';

/** How long something took. */
export interface TimeTaken {
  readonly seconds: number;
  /** Processor time of all threads; absent where whoever ran the job has no clock for it. */
  readonly cpuSeconds?: number;
}

export interface StageTime extends TimeTaken {
  readonly name: string;
}

/** How long a job took. */
export interface Timing {
  /** From its beginning until the report was written. */
  readonly took: TimeTaken;
  /** In the order in which they ran; the last one until the report was written. */
  readonly stages: readonly StageTime[];
}

export interface RegionReport {
  readonly direction: Vec3;
  readonly tiltDeg: number;
  readonly rotaryDeg: number;
  readonly plane: { readonly point: Vec3; readonly normal: Vec3 };
  readonly standsOn: readonly number[];
  readonly volumeMm3: number;
  readonly contactMm2: number;
  /** From the table or the base plane to the underside of its first bead; null if nothing is laid. */
  readonly firstBeadMm: number | null;
  readonly layers: number;
  /** By the facet rule and local minima. */
  readonly unsupportedMm2: number;
  /** From the layers themselves: area that the layer below does not carry, summed over the layers. */
  readonly unsupportedFromLayersMm2: number;
  /** What the check, which shares no code with the plan, finds of it; absent if it is turned off. */
  readonly check?: RegionAir;
  /** Of a region in curved layers, which grows in no single direction: `direction` is that of its first layer. */
  readonly curved?: CurvedReport;
}

/** How a region in curved layers grows. */
export interface CurvedReport {
  readonly grownFrom: 'height' | 'distance';
  /** Greatest tilt of the sheets where beads are laid. */
  readonly mostTiltDeg: number;
  /** The first and the last hundredth of the bead heights, by length. */
  readonly thicknessMm: readonly [number, number];
  /** Skin that leans so far so near to the table that no tilt of the machine would carry it. */
  readonly outOfReachMm2: number;
  /** The same job in flat layers, where the form was chosen by comparison. */
  readonly flat?: { readonly seconds: number; readonly unsupportedFromLayersMm2: number };
}

/** Part of a layer that beads carry from one supported end to the other. */
export interface BridgePlace extends LayerPlace {
  /** Length of its edge along the rest of the layer, mm. */
  readonly edgeMm: number;
  /** Longest bead from end to end, mm. */
  readonly spanMm: number;
}

/** What report.json holds. */
export interface Report extends Timing {
  readonly program: { readonly name: 'tiltwright'; readonly version: string };
  readonly names: { readonly part: string; readonly machine: string; readonly material: string };
  readonly part: {
    readonly volumeMm3: number;
    readonly areaMm2: number;
    readonly sizeMm: Vec3;
    readonly triangles: number;
    readonly closed: boolean;
    readonly healed: readonly Finding[];
  };
  readonly regions: readonly RegionReport[];
  readonly unsupported: {
    readonly asPlacedMm2: number;
    readonly bestSingleDirectionMm2: number;
    readonly plannedMm2: number;
    /** What is bridged does not count. */
    readonly fromLayersMm2: number;
    /** Of that, what lies over the inside of the part, between beads of sparse fill. */
    readonly overFillMm2: number;
    /** Each connected piece of a layer that hangs, by region, then layer. */
    readonly places: readonly HangingPlace[];
    readonly bridges: {
      /** Longest span that was allowed, and that there is. */
      readonly allowedMm: number;
      readonly longestMm: number;
      readonly mm2: number;
      /** Each piece of a layer that is bridged. */
      readonly places: readonly BridgePlace[];
    };
  };
  /** How the part holds on to the table while it grows. */
  readonly footing: {
    /** The least that a body lays on the table with its first layer; what the brim adds is in it. */
    readonly contactMm2: number;
    readonly leastContactMm2: number;
    /** Width by which the brim adds to what holds. */
    readonly brimMm: number;
    /** Greatest tension between first layer and table, while a region (from 0) is printed. */
    readonly table?: { readonly mpa: number; readonly region: number };
    readonly mostTableMpa: number;
    /** The same in the part just over its first layer, or in the columns of its pedestal. */
    readonly neck?: { readonly mpa: number; readonly region: number };
    readonly mostNeckMpa: number;
    /** Of the head, square to the direction of what is printed. */
    readonly pushN: number;
  };
  /** What an operator, who stands where `seen` says, sees of each turning joint at +10 deg. */
  readonly turning: { readonly seen: string; readonly joints: readonly Sense[] };
  readonly motion: {
    readonly seconds: number;
    readonly estimated: true;
    readonly blocks: number;
    readonly transfers: number;
    readonly slowestJoint: string;
    /**
     * Share of the time in which something sets the pace: the speed or acceleration of a joint, by
     * letter; `flow`, what the nozzle melts; `asked`, the job's own speed; `layerTime`, the least time
     * of a layer; `filament`, that moves alone.
     */
    readonly paceShare: Readonly<Record<string, number>>;
  };
  /** Where the job comes nearest while it lays; absent if nothing comes within three clearances. */
  readonly leastClearance?: {
    /** To within 0.04 mm on the safe side where it is not less than the clearance asked for. */
    readonly mm: number;
    readonly askedMm: number;
    readonly between: readonly [string, string];
    readonly region: number;
    readonly layer: number;
    /** Part frame. */
    readonly point: Vec3;
  };
  readonly material: {
    readonly volumeMm3: number;
    readonly filamentMm: number;
    readonly massG: number;
  };
  readonly check?: ProgramCheck;
  /** How far the tip is to be expected off; absent if the program was not checked. */
  readonly errorBudget?: ErrorFigures;
  readonly findings: readonly Finding[];
}

export interface ReportInput {
  readonly version: string;
  readonly partName: string;
  readonly part: Mesh;
  readonly healed: readonly Finding[];
  readonly machine: Machine;
  readonly material: Material;
  readonly regions: readonly Region[];
  readonly layerCounts: readonly number[];
  readonly unsupported: RegionPlan['unsupported'];
  readonly hanging: LayerHanging;
  readonly footing: Footing;
  readonly hold: Pick<RegionRules, 'contact' | 'hold'>;
  /** A region. */
  readonly firstBeads: readonly (FirstBead | undefined)[];
  /** Longest span that was allowed, mm. */
  readonly bridge: number;
  readonly motion: Motion;
  readonly leastGap: LeastGap | undefined;
  readonly check?: ProgramCheck;
  readonly errorBudget?: ErrorFigures;
  /** A region. */
  readonly air?: readonly RegionAir[];
  /** Of the one region of a job in curved layers. */
  readonly curved?: CurvedReport;
  readonly findings: readonly Finding[];
  readonly timing: Timing;
}

export function makeReport(input: ReportInput): Report {
  const { least, most } = bounds(input.part);
  return {
    program: { name: 'tiltwright', version: input.version },
    names: {
      part: printable(input.partName, LONGEST_MESSAGE),
      machine: printable(input.machine.name),
      material: printable(input.material.name),
    },
    part: {
      volumeMm3: massOf(input.part).volume,
      areaMm2: surfaceArea(input.part),
      sizeMm: [most[0] - least[0], most[1] - least[1], most[2] - least[2]],
      triangles: input.part.triangles.length / 3,
      closed: !input.part.twins.includes(-1),
      healed: input.healed.map(shownFinding),
    },
    regions: input.regions.map((region, i) => regionReport(input, region, i)),
    unsupported: {
      ...input.unsupported,
      fromLayersMm2: input.hanging.totalMm2,
      overFillMm2: input.hanging.overFillMm2,
      places: input.hanging.places,
      bridges: bridgesReport(input),
    },
    footing: footingReport(input),
    turning: { seen: VIEW, joints: sensesOf(input.machine) },
    motion: motionReport(input.machine, input.motion),
    ...(input.leastGap ? { leastClearance: clearanceReport(input.machine, input.leastGap) } : {}),
    material: materialReport(input.machine, input.material, input.motion),
    ...(input.check ? { check: input.check } : {}),
    ...(input.errorBudget ? { errorBudget: input.errorBudget } : {}),
    findings: input.findings.map(shownFinding),
    ...input.timing,
  };
}

function regionReport(input: ReportInput, region: Region, i: number): RegionReport {
  return {
    direction: region.direction,
    tiltDeg: Math.acos(Math.max(-1, Math.min(1, region.direction[2]))) / DEG,
    rotaryDeg: rotaryOf(input.machine, input.motion, i),
    plane: { point: region.base.point, normal: region.base.normal },
    standsOn: region.standsOn,
    volumeMm3: region.volume,
    contactMm2: region.contactArea,
    firstBeadMm: input.firstBeads[i]?.overMm ?? null,
    layers: input.layerCounts[i]!,
    unsupportedMm2: region.unsupportedArea,
    unsupportedFromLayersMm2: input.hanging.byRegion[i]!,
    ...(input.air ? { check: input.air[i]! } : {}),
    ...(input.curved ? { curved: input.curved } : {}),
  };
}

const footingReport = ({ footing, hold: { contact, hold } }: ReportInput): Report['footing'] => ({
  contactMm2: footing.contactMm2,
  leastContactMm2: contact,
  brimMm: footing.brimMm,
  ...(footing.table ? { table: footing.table } : {}),
  mostTableMpa: hold.table,
  ...(footing.neck ? { neck: footing.neck } : {}),
  mostNeckMpa: hold.stress,
  pushN: hold.force,
});

const bridgesReport = ({ bridge, hanging }: ReportInput): Report['unsupported']['bridges'] => ({
  allowedMm: bridge,
  longestMm: hanging.bridges.reduce((most, { spanMm }) => Math.max(most, spanMm), 0),
  mm2: hanging.bridges.reduce((sum, { mm2 }) => sum + mm2, 0),
  places: hanging.bridges.map(({ region, layer, point, mm2, edgeMm, spanMm }) => ({
    region,
    layer,
    point,
    mm2,
    edgeMm,
    spanMm,
  })),
});

/**
 * Joint value, while a region is laid, of the rotary joint nearest to the part on the table's side;
 * of the head's last one where the table has none. NaN if nothing of the region is laid.
 */
function rotaryOf(machine: Machine, motion: Motion, region: number): number {
  const rotary = [...machine.joints.keys()].filter((j) => machine.joints[j]!.kind === 'rotary');
  const chosen = rotary.findLast((j) => machine.joints[j]!.carriesTable) ?? rotary.at(-1)!;
  const block = motion.kind.findIndex(
    (kind, b) => kind === MoveKind.deposit && motion.region[b] === region,
  );
  return block < 0 ? NaN : motion.joints[block * motion.jointCount + chosen]! / DEG;
}

function motionReport(machine: Machine, motion: Motion): Report['motion'] {
  const { joints, flow, asked, layerTime, filament } = motion.paceShare;
  const pace = [...joints];
  const letters = machine.joints.map((joint) => joint.letter);
  const byJoint = Object.fromEntries(letters.map((letter, j) => [letter, pace[j]!]));
  return {
    seconds: motion.totalSeconds,
    estimated: true,
    blocks: motion.kind.length,
    transfers: runsOf(motion.kind, MoveKind.transfer),
    slowestJoint: letters[pace.indexOf(Math.max(...pace))]!,
    paceShare: { ...byJoint, flow, asked, layerTime, filament },
  };
}

/** How many unbroken runs of blocks of one kind there are; filament blocks inside do not break a run. */
function runsOf(kinds: Uint8Array, kind: number): number {
  let runs = 0;
  let inside = false;
  for (const k of kinds) {
    if (k === MoveKind.filament) continue;
    if (k === kind && !inside) runs++;
    inside = k === kind;
  }
  return runs;
}

const clearanceReport = (
  machine: Machine,
  { gap, between, region, layer, point }: LeastGap,
): NonNullable<Report['leastClearance']> => ({
  mm: gap,
  askedMm: machine.clearance,
  between,
  region,
  layer,
  point,
});

function materialReport(machine: Machine, material: Material, motion: Motion): Report['material'] {
  const filamentMm = filamentTaken(motion);
  const volumeMm3 = filamentMm * filamentArea(machine.filamentDiameter);
  return { volumeMm3, filamentMm, massG: (volumeMm3 / 1000) * material.density };
}
