/** What the page carries beside its columns: shared by the side that writes it and the side that shows it. */
import type { Finding } from '../../base/fault.js';
import type { Joint, Machine, Solid } from '../../machine/machine.js';
import type { Caution } from '../../report/cautions.js';
import type { Report } from '../../report/report.js';

/** Limits that JSON cannot hold are null: no limit. */
export interface PageJoint extends Omit<Joint, 'least' | 'most' | 'jerk'> {
  /** The last decimal in which the program states it, mm or rad. */
  readonly decimal: number;
  readonly least: number | null;
  readonly most: number | null;
}

/** Corner lists of a mesh as plain numbers. */
export interface PageMesh {
  readonly vertices: readonly number[];
  readonly triangles: readonly number[];
}

/** The machine without what the page does not use. */
export interface PageMachine extends Omit<
  Machine,
  'joints' | 'ready' | 'dialect' | 'mount' | 'obstacles' | 'headMeshes' | 'tableMesh' | 'doubts'
> {
  readonly joints: readonly PageJoint[];
  readonly mount: readonly number[];
  readonly obstacles: readonly {
    readonly carriedBy: number;
    readonly solid: Solid | ({ readonly shape: 'mesh' } & PageMesh);
  }[];
  readonly headMeshes: readonly PageMesh[];
  readonly tableMesh: PageMesh | undefined;
}

/** The small map of build directions. */
export interface PageMap {
  /** PNG of the equal-area disc as a data address. */
  readonly image: string;
  /** Area at the last colour of the scale, mm2. */
  readonly mostMm2: number;
}

/** What the text does not state by levels, of a program in which the head turns while it lays; a block each. */
export interface TurnedBlocks {
  /** Of the bead, by the check, mm. */
  readonly height: Float64Array;
  /** Of the plan, counted from zero. */
  readonly layer: Uint32Array;
}

export interface PageHead {
  /** Without its findings, which are listed separately. */
  readonly report: Omit<Report, 'findings' | 'check'> & {
    readonly check?: Omit<NonNullable<Report['check']>, 'findings'>;
  };
  readonly findings: readonly Finding[];
  readonly machine: PageMachine;
  /** Material of each run lies in this region. */
  readonly regionOfRun: readonly number[];
  readonly map: PageMap;
  /** Picture of the expected errors as a data address; left out where the program was not checked. */
  readonly errors?: string;
  /** How far the samples of the surface lie apart, mm; left out where there are none. */
  readonly sampleSpacing?: number;
  readonly cautions: readonly Caution[];
}

/**
 * Columns of the page. Of the blocks, one value each: `seconds`, `volume` (mm3 that leaves the nozzle),
 * `flow` (mm3/s), `kind` (a TraceKind), `line`, `run`; `joint0` and so on hold the values before the
 * first block and at the end of each, mm or rad; where the head turns while it lays, `layer` and `high` (mm) as in
 * TurnedBlocks. Of the part's skin: `vertices` (x y z, mm) and
 * `triangles`. Of the samples of its surface, if the shape was checked: `points`, `normals`, `error`.
 */
export const COLUMN_UNITS = { seconds: 1e-6, volume: 1e-5, flow: 1e-3, high: 1e-3 };
