/**
 * The program as the page shows it: typed arrays with one value per block, and the list of layers. Tips
 * come from the joint values by the machine's own forward kinematics, so what is drawn is what the
 * machine would do.
 */
import type { Mesh } from '../../base/mesh.js';
import { DEG } from '../../base/vector.js';
import { forwardInto } from '../../machine/forward.js';
import type { Machine } from '../../machine/machine.js';
import { TraceKind } from '../../verify/trace.js';
import type { PageHead, PageMesh } from '../data/page-head.js';
import { type Column, type Packed } from '../data/packing.js';

/** A closed run of blocks laid at one height of one run. */
export interface ShownLayer {
  readonly run: number;
  readonly region: number;
  /** Number within the region, from one. */
  number: number;
  readonly from: number;
  /** One past its last block. */
  to: number;
  /** Of the tip along the build direction; of curved layers over the table, as the mean of its beads; mm. */
  height: number;
  /** Over the layer before; of curved layers the mean height of its beads, mm. */
  thickness: number;
  length: number;
  volume: number;
  readonly seconds: number;
  leastFlow: number;
  mostFlow: number;
}

export interface PartSkin {
  readonly vertices: Float32Array;
  readonly triangles: Uint32Array;
}

/** Places of the part's surface at which the error was measured. */
export interface SurfaceSamples {
  readonly points: Float32Array;
  readonly normals: Float32Array;
  /** mm; positive: too much. */
  readonly error: Float32Array;
  /** How far they lie apart, mm. */
  readonly spacing: number;
}

export interface PageModel {
  readonly head: PageHead;
  readonly machine: Machine;
  /** Blocks. */
  readonly count: number;
  /** Tip before the first block and at the end of each, part frame, mm. */
  readonly tips: Float32Array;
  /** Time at the end of each block, s. */
  readonly end: Float64Array;
  readonly kind: Int32Array;
  readonly line: Int32Array;
  readonly run: Int32Array;
  readonly volume: Float32Array;
  /** mm3/s, 0 where nothing is laid. */
  readonly flow: Float32Array;
  /** Speed of the tip over the part, mm/s. */
  readonly speed: Float32Array;
  /** Unit direction up the head before the first block and at the end of each, part frame. */
  readonly directions: Float32Array;
  /** Angle of the head from the table's normal at the end of each block, deg. */
  readonly tilt: Float32Array;
  /** Height of the bead that each block lays, mm. */
  readonly beadHeight: Float32Array;
  readonly layers: readonly ShownLayer[];
  /** Layer of each block; blocks between layers count to the next one. */
  readonly layerOf: Int32Array;
  readonly skin: PartSkin;
  readonly samples: SurfaceSamples | undefined;
  joint(b: number, j: number): number;
  /** Joint values within block b, mm and rad. */
  jointsAt(b: number, share: number, out: Float64Array): void;
  secondsOf(b: number): number;
  /** The block that runs at a time. */
  blockAt(time: number): number;
  /** First block of a line of the program, or -1. */
  blockOfLine(line: number): number;
}

/** Blocks between two pauses: a few ms of work. */
const PAUSE = 50_000;

export function modelOf(packed: Packed): PageModel {
  const steps = modelInSteps(packed);
  for (;;) {
    const { done, value } = steps.next();
    if (done) return value;
  }
}

/** The same in steps, so that the page stays responsive. */
export function* modelInSteps({ head: raw, columns }: Packed): Generator<void, PageModel> {
  const head = raw as PageHead;
  const machine = machineOf(head);
  const joints = machine.joints.map((_, j) => columns[`joint${j}`]!);
  const count = columns['kind']!.ints.length;
  const end = new Float64Array(count);
  let time = 0;
  for (let b = 0; b < count; b++) end[b] = time += valueOf(columns['seconds']!, b);
  const secondsOf = (b: number): number => end[b]! - (b ? end[b - 1]! : 0);
  const kind = columns['kind']!.ints;
  const run = columns['run']!.ints;
  const line = columns['line']!.ints;
  const volume = floats(columns['volume']!);
  const flow = floats(columns['flow']!);
  yield;
  const { tips, directions } = yield* tipsOf(machine, joints, count);
  yield;
  const { speed, length } = speedsOf(tips, count, secondsOf);
  yield;
  const runs = head.regionOfRun.length;
  const runDirection = runDirections(directions, kind, run, runs);
  const turned = columns['layer'] && {
    layer: columns['layer'].ints,
    high: floats(columns['high']!),
  };
  const base = { head, kind, run, tips, volume, flow, length, end, runDirection, turned };
  yield;
  const { layers, layerOf } = layersOf(base, count);
  yield;
  const tilt = Float32Array.from({ length: count }, (_, b) => tiltOf(directions, b));
  const beadHeight = turned?.high ?? Float32Array.from(layerOf, (i) => layers[i]?.thickness ?? 0);
  yield;
  return {
    head,
    machine,
    count,
    tips,
    end,
    kind,
    line,
    run,
    volume,
    flow,
    speed,
    directions,
    tilt,
    beadHeight,
    layers,
    layerOf,
    skin: skinOf(columns),
    samples: samplesOf(head, columns),
    secondsOf,
    joint: (b, j) => joints[j]!.ints[b + 1]! * joints[j]!.unit,
    jointsAt(b, share, out) {
      for (let j = 0; j < joints.length; j++) {
        const { ints, unit } = joints[j]!;
        out[j] = (ints[b]! + (ints[b + 1]! - ints[b]!) * share) * unit;
      }
    },
    blockAt: (t) => Math.min(count - 1, firstAtLeast(end, t)),
    blockOfLine(wanted) {
      const b = firstAtLeast(line, wanted);
      return b < count && line[b] === wanted ? b : -1;
    },
  };
}

const valueOf = ({ ints, unit }: Column, i: number): number => ints[i]! * unit;
const floats = ({ ints, unit }: Column): Float32Array => Float32Array.from(ints, (x) => x * unit);

/** First index of a rising array whose value is not less; its length if there is none. */
export function firstAtLeast(rising: ArrayLike<number>, value: number): number {
  let low = 0;
  let high = rising.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (rising[middle]! < value) low = middle + 1;
    else high = middle;
  }
  return low;
}

function machineOf({ machine }: PageHead): Machine {
  const joints = machine.joints.map((j) => ({
    ...j,
    least: j.least ?? -Infinity,
    most: j.most ?? Infinity,
    jerk: Infinity,
  }));
  const obstacles = machine.obstacles.map(({ carriedBy, solid }) => ({
    carriedBy,
    solid: solid.shape === 'mesh' ? { shape: solid.shape, mesh: meshOf(solid) } : solid,
  }));
  const mount = Float64Array.from(machine.mount);
  const headMeshes = machine.headMeshes.map((m) => ({ tree: { mesh: meshOf(m) } }));
  const tableMesh = machine.tableMesh && meshOf(machine.tableMesh);
  return { ...machine, joints, mount, obstacles, headMeshes, tableMesh } as unknown as Machine;
}

const meshOf = ({ vertices, triangles }: PageMesh): Pick<Mesh, 'vertices' | 'triangles'> => ({
  vertices: Float64Array.from(vertices),
  triangles: Uint32Array.from(triangles),
});

function* tipsOf(
  machine: Machine,
  joints: readonly Column[],
  count: number,
): Generator<void, { tips: Float32Array; directions: Float32Array }> {
  const tips = new Float32Array(3 * (count + 1));
  const directions = new Float32Array(3 * (count + 1));
  const values = new Float64Array(joints.length);
  const pose = new Float64Array(6);
  for (let b = 0; b <= count; b++) {
    if (b % PAUSE === 0) yield;
    for (let j = 0; j < values.length; j++) values[j] = valueOf(joints[j]!, b);
    forwardInto(machine, values, 0, pose);
    for (let c = 0; c < 3; c++) {
      tips[3 * b + c] = pose[c]!;
      directions[3 * b + c] = pose[3 + c]!;
    }
  }
  return { tips, directions };
}

function speedsOf(
  tips: Float32Array,
  count: number,
  secondsOf: (b: number) => number,
): { speed: Float32Array; length: Float32Array } {
  const speed = new Float32Array(count);
  const length = new Float32Array(count);
  for (let b = 0; b < count; b++) {
    const i = 3 * b;
    const x = tips[i + 3]! - tips[i]!;
    const y = tips[i + 4]! - tips[i + 1]!;
    const z = tips[i + 5]! - tips[i + 2]!;
    length[b] = Math.sqrt(x * x + y * y + z * z);
    const s = secondsOf(b);
    speed[b] = s > 0 ? length[b]! / s : 0;
  }
  return { speed, length };
}

/** The head's direction at the first bead of each run. */
function runDirections(
  directions: Float32Array,
  kind: Int32Array,
  run: Int32Array,
  runs: number,
): Float32Array {
  const out = new Float32Array(3 * runs);
  const known = new Uint8Array(runs);
  for (let b = 0; b < kind.length; b++) {
    if (kind[b] !== TraceKind.deposit || known[run[b]!]) continue;
    known[run[b]!] = 1;
    for (let c = 0; c < 3; c++) out[3 * run[b]! + c] = directions[3 * (b + 1) + c]!;
  }
  return out;
}

/** At the end of block b, deg. */
const tiltOf = (directions: Float32Array, b: number): number =>
  Math.acos(Math.max(-1, Math.min(1, directions[3 * b + 5]!))) / DEG;

interface BlockColumns extends Pick<
  PageModel,
  'head' | 'kind' | 'run' | 'tips' | 'volume' | 'flow' | 'end'
> {
  readonly length: Float32Array;
  /** The head's direction at the first bead of each run. */
  readonly runDirection: Float32Array;
  /** Of a program in which the head turns while it lays: layer of each block, and height of its bead, mm. */
  readonly turned: { readonly layer: Int32Array; readonly high: Float32Array } | undefined;
}

/** Two beads nearer in height than this lie in one layer, mm. */
const SAME_HEIGHT = 0.004;

function layersOf(
  blocks: BlockColumns,
  count: number,
): { layers: ShownLayer[]; layerOf: Int32Array } {
  const layers: ShownLayer[] = [];
  const layerOf = new Int32Array(count);
  let current: ShownLayer | undefined;
  let open = 0;
  for (let b = 0; b < count; b++) {
    if (blocks.kind[b] === TraceKind.deposit) {
      const run = blocks.run[b]!;
      const height = heightAt(blocks, b, run);
      const same = blocks.turned
        ? blocks.turned.layer[b] === blocks.turned.layer[open - 1]
        : current && Math.abs(height - current.height) <= SAME_HEIGHT;
      if (!current || current.run !== run || !same) {
        current = emptyLayer(blocks, run, open, height);
        layers.push(current);
      }
      current.to = open = b + 1;
      add(current, blocks, b);
    }
    layerOf[b] = layers.length - 1;
  }
  finish(layers, layerOf, blocks);
  return { layers, layerOf };
}

function heightAt({ tips, runDirection }: BlockColumns, b: number, run: number): number {
  let height = 0;
  for (let c = 0; c < 3; c++) height += tips[3 * (b + 1) + c]! * runDirection[3 * run + c]!;
  return height;
}

const emptyLayer = (
  { head }: BlockColumns,
  run: number,
  from: number,
  height: number,
): ShownLayer => ({
  run,
  region: head.regionOfRun[run] ?? 0,
  number: 0,
  from,
  to: from,
  height,
  thickness: 0,
  length: 0,
  volume: 0,
  seconds: 0,
  leastFlow: Infinity,
  mostFlow: 0,
});

function add(layer: ShownLayer, { length, volume, flow }: BlockColumns, b: number): void {
  layer.length += length[b]!;
  layer.volume += volume[b]!;
  if (!(flow[b]! > 0)) return;
  layer.leastFlow = Math.min(layer.leastFlow, flow[b]!);
  layer.mostFlow = Math.max(layer.mostFlow, flow[b]!);
}

/** Numbers within the region, thickness over the layer before, time, and blocks between layers. */
function finish(layers: ShownLayer[], layerOf: Int32Array, blocks: BlockColumns): void {
  const { end } = blocks;
  const numbers = new Map<number, number>();
  layers.forEach((layer, i) => {
    layer.number = (numbers.get(layer.region) ?? 0) + 1;
    numbers.set(layer.region, layer.number);
    const before = layers[i - 1];
    const after = layers[i + 1];
    if (blocks.turned) Object.assign(layer, meansOf(blocks, blocks.turned.high, layer));
    else if (before?.run === layer.run) layer.thickness = layer.height - before.height;
    else if (after?.run === layer.run) layer.thickness = after.height - layer.height;
    if (!(layer.thickness > 0)) layer.thickness = before?.thickness || 0.2;
    const seconds = end[layer.to - 1]! - (layer.from ? end[layer.from - 1]! : 0);
    Object.assign(layer, { seconds });
    layerOf.fill(i, layer.from, layer.to);
  });
  const last = layers.at(-1);
  if (last) layerOf.fill(layers.length - 1, last.to);
}

/** Height of the tip over the table and of the bead, means over the beads of a layer by their length. */
function meansOf(
  { kind, tips, length }: BlockColumns,
  high: Float32Array,
  { from, to }: Pick<ShownLayer, 'from' | 'to'>,
): Pick<ShownLayer, 'height' | 'thickness'> {
  let [height, thickness, all] = [0, 0, 0];
  for (let b = from; b < to; b++) {
    if (kind[b] !== TraceKind.deposit) continue;
    height += length[b]! * tips[3 * b + 5]!;
    thickness += length[b]! * high[b]!;
    all += length[b]!;
  }
  return { height: height / all, thickness: thickness / all };
}

function skinOf(columns: Packed['columns']): PartSkin {
  return {
    vertices: floats(columns['vertices']!),
    triangles: Uint32Array.from(columns['triangles']!.ints),
  };
}

function samplesOf(head: PageHead, columns: Packed['columns']): SurfaceSamples | undefined {
  const { points, normals, error } = columns;
  if (!points || !normals || !error || head.sampleSpacing === undefined) return undefined;
  return {
    points: floats(points),
    normals: floats(normals),
    error: floats(error),
    spacing: head.sampleSpacing,
  };
}

/** A joint value as people read it. */
export const shown = (machine: Machine, j: number, value: number): number =>
  machine.joints[j]!.kind === 'rotary' ? value / DEG : value;
export const unitOf = (machine: Machine, j: number): string =>
  machine.joints[j]!.kind === 'rotary' ? '°' : 'mm';
