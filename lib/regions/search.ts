/**
 * The search, backwards from the finished part: cut off a piece that is clean along its own
 * direction, until the rest is clean along the table normal. A beam of unfinished plans is kept;
 * from each, every direction is swept by facet arithmetic (sweep.ts), and only the best few cuts are
 * made and judged exactly: what hangs in the piece and in the rest, contact, head room, and that
 * everything left still stands on the table.
 */
import { type Vec3, dot, scale } from '../base/vector.js';
import { type Watch, step } from '../base/watch.js';
import { massOf } from '../mesh/measure.js';
import { shellsOf, splitShells } from '../mesh/shells.js';
import { hanging, prepare } from '../overhang/overhang.js';
import { headMeets } from './clearance.js';
import { type Tagged, cutOff } from './cut.js';
import { faceNormals, evenDirections, planeNormals } from './directions.js';
import type { SearchLimits } from './limits.js';
import type { RegionRules } from './rules.js';
import { ON_TABLE, type Solid, solidFrom } from './solid.js';
import { type Candidate, marksOf, sweep, takenFrom } from './sweep.js';

/** One cut of a plan, so that it can be made again on another mesh of the same part. */
export interface Move {
  readonly direction: Vec3;
  readonly normal: Vec3;
  readonly offset: number;
  /** A point of the piece, its highest along the normal, part frame. */
  readonly seed: Vec3;
}

export interface Piece {
  readonly tagged: Tagged;
  readonly move: Move;
  readonly contactArea: number;
  /** mm2 that hangs in it along its direction. */
  readonly hangs: number;
}

/** A plan: pieces in the order in which they were cut off, last printed first, and what is left. */
export interface Plan {
  readonly solid: Solid;
  readonly pieces: readonly Piece[];
  /** mm2 that hangs in the pieces and the rest together. */
  readonly cost: number;
}

export interface SearchSetting {
  readonly rules: RegionRules;
  readonly limits: SearchLimits;
  /** Area that may hang in a piece, mm2; 0 is strict. */
  readonly tolerance: number;
  readonly beam: number;
  readonly children: number;
}

/** Less than this counts as nothing, mm2. */
export const NOTHING = 1e-6;

export function search(
  part: Tagged,
  setting: SearchSetting,
  watch?: Watch,
  label = 'regions',
): Plan {
  const theta = (setting.rules.overhang * Math.PI) / 180;
  const solid = solidFrom(part, theta);
  let best: Plan = { solid, pieces: [], cost: solid.upright.area };
  const directions = directionsFor(part, setting);
  let beam = [best];
  for (let depth = 1; depth < setting.rules.most && best.cost > NOTHING && beam.length; depth++) {
    step(watch, label, depth - 1, setting.rules.most);
    const children = beam.flatMap((plan) => expand(plan, directions, setting, theta, watch));
    beam = distinct(children.sort(byCost)).slice(0, setting.beam);
    if (beam.length && byCost(beam[0]!, best) < 0) best = beam[0]!;
  }
  return best;
}

const byCost = (a: Plan, b: Plan): number => a.cost - b.cost || a.pieces.length - b.pieces.length;

/** Plans that cost the same and leave the same volume are the same plan in another order. */
function distinct(sorted: readonly Plan[]): Plan[] {
  const seen = new Set<string>();
  return sorted.filter((plan) => {
    const key = `${plan.cost.toPrecision(9)} ${massOf(plan.solid.mesh).volume.toPrecision(9)}`;
    if (seen.has(key)) return false;
    seen.add(key);
    return true;
  });
}

interface Directions {
  readonly build: readonly Vec3[];
  readonly faces: readonly Vec3[];
}

function directionsFor(part: Tagged, { rules, limits }: SearchSetting): Directions {
  const faces = faceNormals(part.mesh, 0.004, 24);
  const opposite = faces.map((f) => scale(f, -1));
  const all: Vec3[] = [[0, 0, 1], ...faces, ...opposite, ...evenDirections(rules.directions)];
  const build = all.filter(
    (d, i) => limits.canReach(d) && !all.slice(0, i).some((e) => dot(d, e) > 1 - 1e-7),
  );
  return { build, faces: [...faces, ...opposite] };
}

/** The plans that one more exact cut makes of a plan, those that gain. */
function expand(
  plan: Plan,
  directions: Directions,
  setting: SearchSetting,
  theta: number,
  watch: Watch | undefined,
): Plan[] {
  const found: Candidate[] = [];
  for (const d of directions.build) {
    watch?.signal?.throwIfAborted();
    const tilt = Math.acos(Math.max(-1, Math.min(1, d[2])));
    const floor = setting.limits.leastTipHeight(tilt);
    const marks = marksOf(plan.solid, d, theta);
    for (const m of planeNormals(d, directions.faces, setting.rules.oblique)) {
      found.push(...sweep(plan.solid, m, d, marks, { theta, tolerance: setting.tolerance, floor }));
    }
  }
  const worth = (c: Candidate): number => c.resolved + 0.01 * c.area;
  const ranked = found.filter((c) => c.resolved > NOTHING).sort((a, b) => worth(b) - worth(a));
  const out: Plan[] = [];
  let tried = 0;
  for (const candidate of unlike(ranked, worth)) {
    if (out.length >= setting.children || ++tried > 4 * setting.children) break;
    const next = tryCut(plan, candidate, setting, theta);
    if (next) out.push(next);
  }
  return out;
}

/** Drops candidates that do what a better one does from the same seed. */
function* unlike(
  ranked: readonly Candidate[],
  worth: (c: Candidate) => number,
): Generator<Candidate> {
  const seen = new Set<string>();
  for (const c of ranked) {
    const key = `${c.seed} ${worth(c).toPrecision(4)} ${c.direction.map((x) => x.toFixed(1)).join(' ')}`;
    if (seen.has(key)) continue;
    seen.add(key);
    yield c;
  }
}

function tryCut(plan: Plan, c: Candidate, setting: SearchSetting, theta: number): Plan | undefined {
  const { mesh } = plan.solid;
  const seed = [0, 1, 2].map((i) => mesh.vertices[3 * c.seed + i]!) as unknown as Vec3;
  const move: Move = { direction: c.direction, normal: c.normal, offset: c.offset, seed };
  const id = plan.pieces.length;
  const made = makeCut(plan.solid, c.seed, move, id);
  if (!made || made.contactArea < setting.rules.contact) return undefined;
  const hangs = hangingIn(made.piece, id, c.direction, theta);
  if (hangs > setting.tolerance + NOTHING) return undefined;
  if (!standsOnTable(made.rest)) return undefined;
  const solid = solidFrom(made.rest, theta);
  const pieces = [
    ...plan.pieces,
    { tagged: made.piece, move, contactArea: made.contactArea, hangs },
  ];
  const cost = solid.upright.area + pieces.reduce((sum, p) => sum + p.hangs, 0);
  if (cost > plan.cost - NOTHING) return undefined;
  if (headMeets(made.piece.mesh, made.rest.mesh, c.direction, setting.limits)) return undefined;
  return { solid, pieces, cost };
}

/** Makes a move on a solid; `seed` is a vertex of the piece. */
export function makeCut(
  solid: Solid,
  seed: number,
  move: Move,
  id: number,
): ReturnType<typeof cutOff> {
  const v = solid.mesh.vertices;
  const [nx, ny, nz] = move.normal;
  const height = new Float64Array(v.length / 3);
  for (let i = 0; i < height.length; i++) {
    height[i] = nx * v[3 * i]! + ny * v[3 * i + 1]! + nz * v[3 * i + 2]!;
  }
  const taken = takenFrom(solid, seed, height, move.offset + 1e-6, move.normal);
  return cutOff(
    solid.tagged,
    { point: scale(move.normal, move.offset), normal: move.normal },
    id,
    taken,
  );
}

/** mm2 that hangs in a piece built along d, its own base carried. */
export function hangingIn(piece: Tagged, base: number, d: Vec3, theta: number): number {
  const carried = Uint8Array.from(piece.cut, (c) => (c === base ? 1 : 0));
  return hanging(prepare(piece.mesh), d, theta, carried).area;
}

/** True if every connected body of the rest has a vertex on the table; hollows inside are no bodies. */
export function standsOnTable(rest: Tagged): boolean {
  const shells = shellsOf(rest.mesh);
  const meshes = shells.count === 1 ? [rest.mesh] : splitShells(rest.mesh, shells);
  return meshes.every((shell) => {
    if (massOf(shell).volume <= 0) return true;
    for (let i = 2; i < shell.vertices.length; i += 3)
      if (shell.vertices[i]! <= ON_TABLE) return true;
    return false;
  });
}
