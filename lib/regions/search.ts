/**
 * The search, backwards from the finished part: take off pieces that are clean along a direction of
 * their own, until the rest is clean along the table normal. A beam of unfinished plans is kept. From
 * each, every plane normal is swept for every direction near it by facet arithmetic (tree.ts,
 * sweep.ts), and only the best cuts are made and judged exactly: what hangs in piece and rest, contact,
 * room for the head over table and rest, and that everything left still stands on the table.
 */
import { type Vec3, dot } from '../base/vector.js';
import { type Watch, step } from '../base/watch.js';
import { massOf } from '../mesh/measure.js';
import { type Body, type Burden, type TableRules, bodyFrom, uprightBurden } from './body.js';
import { type SearchLimits } from './limits.js';
import { sharesOf, type Share } from './measure.js';
import { type Move, middles, planeOf, siteOf, standsOnTable, takeOff } from './move.js';
import { type HeadTable, headMeets, headTable } from './room.js';
import type { Tagged } from './section.js';
import { type Candidate, Scratch, marksOf, sweep } from './sweep.js';
import { SinkTree } from './tree.js';

export interface Piece {
  readonly tagged: Tagged;
  readonly move: Move;
  readonly contact: number;
  /** What hangs in it, as the search counts, mm2. */
  readonly cost: number;
}

/** Pieces in the order in which they were taken off, last printed first, and what is left. */
export interface Plan {
  readonly rest: Tagged;
  readonly upright: Burden;
  readonly pieces: readonly Piece[];
  /** What hangs in pieces and rest together, as the search counts, mm2. */
  readonly cost: number;
}

export interface SearchSetting extends TableRules {
  readonly limits: SearchLimits;
  readonly directions: readonly Vec3[];
  /** Normals of planes that are tried beside the directions themselves. */
  readonly normals: readonly Vec3[];
  /** How far a plane's normal may lean against the direction, rad. */
  readonly lean: number;
  /** What may hang in a piece, mm2; 0 is strict. */
  readonly tolerance: number;
  /** Least contact of a piece, mm2. */
  readonly contact: number;
  /** Least that a cut must gain, mm2. */
  readonly worth: number;
  readonly most: number;
  readonly beam: number;
  readonly children: number;
}

/** Less than this counts as nothing, mm2. */
export const NOTHING = 1e-3;

export function search(part: Tagged, setting: SearchSetting, watch?: Watch, label = ''): Plan {
  const upright = uprightBurden(part, setting);
  let best: Plan = { rest: part, upright, pieces: [], cost: upright.cost };
  const fans = fansOf(setting);
  const head = headTable(setting.limits);
  let beam = [best];
  for (let depth = 1; depth < setting.most && best.cost > NOTHING && beam.length > 0; depth++) {
    const children: Plan[] = [];
    for (const plan of beam) {
      step(watch, label, depth - 1, setting.most);
      children.push(...expand(plan, fans, head, setting));
    }
    beam = unlike(children.sort(better)).slice(0, setting.beam);
    if (beam.length > 0 && better(beam[0]!, best) < 0) best = beam[0]!;
  }
  return best;
}

/** Less cost first; at the same cost fewer pieces, more contact, less tilt. */
export function better(a: Plan, b: Plan): number {
  if (Math.abs(a.cost - b.cost) > NOTHING) return a.cost - b.cost;
  if (a.pieces.length !== b.pieces.length) return a.pieces.length - b.pieces.length;
  return ease(b) - ease(a);
}

/** Contact in mm2, less a little for every tilted region. */
const ease = ({ pieces }: Plan): number =>
  pieces.reduce((sum, p) => sum + p.contact - TILT_COST * Math.acos(clamp(p.move.direction[2])), 0);

/** One rad of tilt is worth this much contact, mm2. */
const TILT_COST = 100;

const clamp = (x: number): number => Math.max(-1, Math.min(1, x));

/** Drops plans that leave nearly the same behind as a better one. */
function unlike(sorted: readonly Plan[]): Plan[] {
  const seen = new Set<string>();
  return sorted.filter((plan) => {
    const key = `${plan.cost.toPrecision(3)} ${massOf(plan.rest.mesh).volume.toPrecision(3)}`;
    if (seen.has(key)) return false;
    seen.add(key);
    return true;
  });
}

/** A plane normal and the directions that may be built on its planes, nearest first. */
interface Fan {
  readonly normal: Vec3;
  readonly directions: readonly number[];
}

function fansOf({ directions, normals, lean }: SearchSetting): Fan[] {
  const all: Vec3[] = [];
  for (const n of [...directions, ...normals]) {
    if (!all.some((m) => dot(m, n) > 1 - 1e-9)) all.push(n);
  }
  const least = Math.cos(lean) - 1e-9;
  return all
    .map((normal): Fan => {
      const near = directions.map((d, i) => ({ i, near: dot(d, normal) }));
      return {
        normal,
        directions: near
          .filter((e) => e.near >= least)
          .sort((a, b) => b.near - a.near || a.i - b.i)
          .map((e) => e.i),
      };
    })
    .filter((fan) => fan.directions.length > 0);
}

const tiltOf = (d: Vec3): number => Math.acos(clamp(d[2]));

/** The plans that one more cut makes of a plan, those that gain. */
function expand(plan: Plan, fans: readonly Fan[], head: HeadTable, setting: SearchSetting): Plan[] {
  const body = bodyFrom(plan.rest, setting);
  const found = candidatesOf(body, fans, setting);
  const out: Plan[] = [];
  let tries = 0;
  for (const group of grouped(found)) {
    if (out.length >= setting.children || tries >= TRIES * setting.children) break;
    for (const candidate of group.slice(0, DIRECTIONS_A_PLANE)) {
      tries++;
      const child = tryCut(plan, body, candidate, head, setting);
      if (!child) continue;
      out.push(child);
      break;
    }
  }
  return out;
}

/** Cuts made at most for each child wanted. */
const TRIES = 5;
/** Directions tried at most on one plane. */
const DIRECTIONS_A_PLANE = 3;

/** Floor for directions that the head cannot build just over the table. */
const floorOf = (d: Vec3, { limits, foot }: SearchSetting): number =>
  Math.max(limits.leastTipHeight(tiltOf(d)), foot + 1e-6);

function candidatesOf(body: Body, fans: readonly Fan[], setting: SearchSetting): Candidate[] {
  const marks = setting.directions.map((d) => marksOf(body, d, setting.theta, floorOf(d, setting)));
  const scratch = new Scratch(body.start.length - 1);
  const tree = new SinkTree(body);
  const out: Candidate[] = [];
  for (const { normal, directions } of fans) {
    tree.sink(normal);
    for (const i of directions) {
      sweep(body, tree, marks[i]!, setting.tolerance, setting.worth, scratch, out);
    }
  }
  return out;
}

/**
 * Candidates of one plane and piece stand together, nearest direction first; groups by what they gain.
 * Many planes free the same limb: of those that gain the same from the same seed only the one that
 * takes most and the one that takes least are kept, so that few exact cuts try much.
 */
function grouped(found: readonly Candidate[]): Candidate[][] {
  const groups = new Map<string, Candidate[]>();
  const value = (c: Candidate): number => c.gain + 0.01 * c.area;
  for (const c of found) {
    const key = `${c.normal.join(' ')} ${c.seed} ${c.offset}`;
    const group = groups.get(key);
    if (group) group.push(c);
    else groups.set(key, [c]);
  }
  const sorted = [...groups.values()]
    .map((group) => ({ group, best: group.reduce((a, c) => (value(c) > value(a) ? c : a)) }))
    .sort((a, b) => value(b.best) - value(a.best));
  const alike = new Map<string, typeof sorted>();
  for (const entry of sorted) {
    const key = `${entry.best.seed} ${entry.best.gain.toPrecision(2)}`;
    const same = alike.get(key);
    if (same) same.push(entry);
    else alike.set(key, [entry]);
  }
  const kept = new Set([...alike.values()].flatMap((same) => [same[0]!, same.at(-1)!]));
  return sorted.filter((entry) => kept.has(entry)).map((entry) => entry.group);
}

function tryCut(
  plan: Plan,
  body: Body,
  candidate: Candidate,
  head: HeadTable,
  setting: SearchSetting,
): Plan | undefined {
  const { direction, normal, offset } = candidate;
  const site = siteOf(body.tagged, planeOf(candidate));
  if (!site) return undefined;
  const shares = sharesOf(body, site.section, site.parts, site.caps, direction, setting.theta);
  const floor = floorOf(direction, setting);
  const sound = (s: Share): boolean =>
    !s.island &&
    s.lowest >= floor - 1e-6 &&
    s.burden <= setting.tolerance + NOTHING &&
    s.contact >= setting.contact;
  const seed = site.parts.of[candidate.seed]!;
  if (seed < 0) return undefined;
  if (!sound(shares[seed]!)) return undefined;
  const chosen = Uint8Array.from(shares, (s, i) =>
    i === seed || (sound(s) && s.relief - s.burden > setting.worth) ? 1 : 0,
  );
  const id = plan.pieces.length;
  const halves = takeOff(body.tagged, site, chosen, id);
  if (!standsOnTable(halves.rest, setting.foot)) return undefined;
  const upright = uprightBurden(halves.rest, setting);
  const hangs = shares.reduce((sum, s, i) => sum + chosen[i]! * s.burden, 0);
  const pieces = [
    ...plan.pieces,
    {
      tagged: halves.piece,
      move: { direction, normal, offset, ...middles(site, chosen) },
      contact: halves.contact,
      cost: hangs,
    },
  ];
  const cost = upright.cost + pieces.reduce((sum, p) => sum + p.cost, 0);
  if (cost > plan.cost - setting.worth) return undefined;
  if (headMeets(halves.piece.mesh, halves.rest.mesh, direction, head)) return undefined;
  return { rest: halves.rest, upright, pieces, cost };
}
