/**
 * The page of results as one file of HTML that needs no network: what the check found in the program's
 * text, the machine and the report. Its looks and behaviour come from the template, which the build
 * makes of `page/client`; here the data are packed into it.
 */
import type { Finding } from '../../base/fault.js';
import type { Mesh } from '../../base/mesh.js';
import { DEG } from '../../base/vector.js';
import type { Joint, Machine } from '../../machine/machine.js';
import { senseLines } from '../../machine/sense.js';
import type { Region } from '../../regions/region.js';
import type { Surface, Trace } from '../../verify/verify.js';
import { cautions } from '../../report/cautions.js';
import { type Column, column, pack } from './packing.js';
import {
  COLUMN_UNITS as UNIT,
  type PageHead,
  type PageMachine,
  type PageMap,
  type PageMesh,
  type TurnedBlocks,
} from './page-head.js';
import type { Report } from '../../report/report.js';
import { regionsOfRuns } from './region-of-run.js';
import { samplesOf } from './shape-samples.js';
import { skinOf } from './part-skin.js';

export interface PageInput {
  readonly report: Report;
  readonly machine: Machine;
  readonly regions: readonly Region[];
  /** Of the checked text. */
  readonly trace: Trace;
  /** When each block of it ends, s. */
  readonly time: Float64Array;
  readonly map: PageMap;
  /** Of a program in which the head turns while it lays. */
  readonly turned?: TurnedBlocks;
  /** Samples of the shape error, if the check knew the part. */
  readonly surface?: Surface;
  /** SVG of the expected errors. */
  readonly errors?: string;
}

/** Where the template takes its data and its title. */
const SLOT = '<!--data-->';
const TITLE = '<!--title-->';

/**
 * @param template what the build leaves as dist/page/page.html
 * @returns the page, in pieces
 */
export function makePage(template: string, input: PageInput): string[] {
  const { report, machine, regions, trace, time } = input;
  const samples = input.surface && samplesOf(input.surface);
  const [before, after] = template.split(SLOT);
  if (after === undefined) throw new Error(`the template of the page has no ${SLOT}`);
  const { findings, check, ...rest } = report;
  const head: PageHead = {
    report: { ...rest, ...(check ? { check: withoutFindings(check) } : {}) },
    findings,
    machine: machineOf(machine),
    regionOfRun: regionsOfRuns(trace, regions),
    map: input.map,
    ...(input.errors ? { errors: dataOf(input.errors) } : {}),
    ...(samples ? { sampleSpacing: samples.spacing } : {}),
    cautions: [{ text: turning(machine), source: '' }, ...cautions],
  };
  const columns = {
    ...blockColumns(trace, time, machine),
    ...(input.turned ? turnedColumns(input.turned) : {}),
    ...skinOf(regions),
    ...samples?.columns,
  };
  return [before!.replace(TITLE, escaped(report.names.part)), pack({ head, columns }), after];
}

/** One caution: what an operator should see of each turning joint. */
function turning(machine: Machine): string {
  const [where, ...rest] = senseLines(machine);
  return `${where![0]!.toUpperCase()}${where!.slice(1)} ${rest.join('. ')}.`;
}

const dataOf = (svg: string): string =>
  `data:image/svg+xml;base64,${Buffer.from(svg).toString('base64')}`;

function withoutFindings<T extends { readonly findings: readonly Finding[] }>(
  check: T,
): Omit<T, 'findings'> {
  const { findings, ...rest } = check;
  return rest;
}

const decimalOf = ({ dialect }: Machine, { kind }: Pick<Joint, 'kind'>): number =>
  10 ** -dialect.decimals[kind] * (kind === 'rotary' ? DEG : 1);

const finite = (x: number): number | null => (Number.isFinite(x) ? x : null);

function machineOf(machine: Machine): PageMachine {
  const { ready, dialect, mount, headMeshes, tableMesh, doubts, ...rest } = machine;
  const joints = machine.joints.map(({ jerk, ...j }) => ({
    ...j,
    decimal: decimalOf(machine, j),
    least: finite(j.least),
    most: finite(j.most),
  }));
  const obstacles = machine.obstacles.map(({ carriedBy, solid }) => ({
    carriedBy,
    solid: solid.shape === 'mesh' ? { shape: 'mesh' as const, ...cornersOf(solid.mesh) } : solid,
  }));
  return {
    ...rest,
    joints,
    mount: [...mount],
    obstacles,
    headMeshes: headMeshes.map(({ tree }) => cornersOf(tree.mesh)),
    tableMesh: tableMesh && cornersOf(tableMesh),
  };
}

const cornersOf = ({ vertices, triangles }: Mesh): PageMesh => ({
  vertices: [...vertices],
  triangles: [...triangles],
});

function blockColumns(trace: Trace, time: Float64Array, machine: Machine): Record<string, Column> {
  const { jointCount, volume, flow, kind, line, run } = trace;
  const columns: Record<string, Column> = {
    seconds: column(
      time.map((t, b) => t - (b ? time[b - 1]! : 0)),
      UNIT.seconds,
    ),
    volume: column(volume, UNIT.volume),
    flow: column(flow, UNIT.flow),
    kind: column(kind, 1),
    line: column(line, 1),
    run: column(run, 1),
  };
  machine.joints.forEach((joint, j) => {
    columns[`joint${j}`] = column(jointPath(trace, j, jointCount), decimalOf(machine, joint));
  });
  return columns;
}

const turnedColumns = ({ height, layer }: TurnedBlocks): Record<string, Column> => ({
  layer: column(layer, 1),
  high: column(
    height.map((h) => (Number.isFinite(h) ? h : 0)),
    UNIT.high,
  ),
});

/** Values of a joint before the first block and at the end of each; where not known it stands still. */
function jointPath({ joints, from, time }: Trace, j: number, count: number): Float64Array {
  const path = new Float64Array(time.length + 1);
  let last = Number.isNaN(from[j]!) ? 0 : from[j]!;
  path[0] = last;
  for (let b = 0; b < time.length; b++) {
    const value = joints[b * count + j]!;
    if (!Number.isNaN(value)) last = value;
    path[b + 1] = last;
  }
  return path;
}

const escaped = (text: string): string =>
  text.replace(/[&<>"]/g, (c) => ({ '&': '&amp;', '<': '&lt;', '>': '&gt;', '"': '&quot;' })[c]!);
