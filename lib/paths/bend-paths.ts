/**
 * Paths of a field's layers, planned flat in layer space, brought back into the part: every point gets its place, the
 * direction of growth there, and its bead the width and height that the field's metric makes of it. Straight stretches
 * of layer space are curves in the part, so they are divided until chords keep to them and neighbouring directions are
 * near each other. A bead's volume is that of its piece of layer space, stretched: length, width and height together
 * change by the map's determinant. Where a sheet meets the table at an angle, a bead is only as high as it stands over
 * the table. Links inside a layer keep to its sheet, or are lifted where that bows away from the head.
 */
import { float64List, uint32List } from '../base/ragged.js';
import { DEG, type Vec3, dot, length, pointAt, sub } from '../base/vector.js';
import { SheetMetric, type SheetPlace, sheetArea, sheetLength } from '../field/sheet-metric.js';
import type { BentMap } from '../layers/layer-map.js';
import { beadArea } from './bead.js';
import { Link, type Paths } from './paths.js';
import type { PlannedPaths } from './plan-paths.js';

/** How far a chord may stray from its path, mm. */
const CHORD_STRAY = 0.005;
/** How far the direction may turn from one point to the next, cosine. */
const TURN = Math.cos(2 * DEG);
/** Stretches are divided to this share of the lattice's spacing before they are judged, for directions bend inside. */
const STEP_SHARE = 0.5;
/** Halvings of a stretch, at most. */
const STRETCH_HALVINGS = 6;

/**
 * Points nearer than this to the one before are left out, mm: facets of the deformed part leave pairs of them, whose
 * direction is rounding and over which no joint can keep its speed.
 */
const SAME_POINT = 0.03;

/** The sheet may lean so far from the head on a link inside it, beyond what the head leans at its ends: cosine. */
const LINK_LEAN = Math.cos(5 * DEG);

interface SheetPoint extends SheetPlace {
  /** Layer space. */
  readonly x: number;
  readonly y: number;
}

/** Planned paths brought back into the part, with the volumes that their beads have there. */
export function bentPlan(planned: PlannedPaths, map: BentMap): PlannedPaths {
  const paths = bentPaths(planned.paths, map);
  const { figures, from } = planned;
  const laid = new Float64Array(figures.laid.length);
  for (let i = 0; i < paths.layer.length; i++) {
    for (let k = paths.start[i]! + 1; k < paths.start[i + 1]!; k++) {
      const far = length(sub(pointAt(paths.points, k), pointAt(paths.points, k - 1)));
      laid[paths.layer[i]! - from]! +=
        far * beadArea(paths.width[k]!, paths.height[k]!) * paths.flowFactor[i]!;
    }
  }
  // What a layer is to have swells as what is laid in it does.
  const wanted = figures.wanted.map((mm3, k) =>
    figures.laid[k]! > 0 ? (mm3 * laid[k]!) / figures.laid[k]! : mm3,
  );
  return { ...planned, paths, inLayers: planned.paths, figures: { ...figures, laid, wanted } };
}

export function bentPaths(paths: Paths, { field }: BentMap): Paths {
  const metric = new SheetMetric(field);
  const step = STEP_SHARE * field.lattice.spacing;
  const points = float64List(2 * paths.points.length);
  const directions = float64List(2 * paths.points.length);
  const width = float64List();
  const height = float64List();
  const start = uint32List();
  const links = { points: float64List(), start: uint32List() };
  const link = paths.link.slice();
  const placeAt = (p: Vec3): SheetPoint => {
    const place = metric.at(p);
    if (!place) throw new Error(`no layers at ${p.map((x) => x.toFixed(3)).join(' ')}`);
    return { ...place, x: p[0], y: p[1] };
  };
  for (let i = 0; i < paths.layer.length; i++) {
    start.push(width.length);
    links.start.push(links.points.length / 3);
    const [a, b] = [paths.start[i]!, paths.start[i + 1]!];
    const [from, to] = [paths.linkStart[i]!, paths.linkStart[i + 1]!];
    const first = placeAt(pointAt(paths.points, a));
    if (paths.link[i] === Link.inside && i > 0) {
      // Along the sheet like the paths: a chord of it would go through what is laid.
      const way = [pointAt(paths.points, a - 1)];
      for (let k = from; k < to; k++) way.push(pointAt(paths.linkPoints, k));
      way.push(pointAt(paths.points, a));
      const places = [placeAt(way[0]!)];
      for (let n = 1; n < way.length; n++) {
        const end = placeAt(way[n]!);
        places.push(...divided(places.at(-1)!, end, way[n]![2], step, placeAt));
      }
      if (bowsAway(places)) link[i] = Link.lifted;
      else for (const { point } of places.slice(1, -1)) links.points.push3(...point);
    }
    let before = first;
    const put = (place: SheetPoint, w: number, h: number): void => {
      points.push3(...place.point);
      directions.push3(...place.direction);
      width.push(w);
      height.push(h);
    };
    put(first, paths.width[a]!, paths.height[a]! * first.thickness);
    for (let k = a + 1; k < b; k++) {
      const end = placeAt(pointAt(paths.points, k));
      const z = paths.points[3 * k + 2]!;
      for (const next of divided(before, end, z, step, placeAt)) {
        const near = length(sub(next.point, before.point)) < SAME_POINT;
        if (near && (k < b - 1 || next !== end)) continue;
        const [w, h] = beadBetween(before, next, paths.width[k]!, paths.height[k]!);
        put(next, w, h);
        before = next;
      }
    }
  }
  start.push(width.length);
  links.start.push(links.points.length / 3);
  return {
    ...paths,
    points: points.take(),
    width: width.take(),
    height: height.take(),
    start: start.take(),
    link,
    linkPoints: links.points.take(),
    linkStart: links.start.take(),
    directions: directions.take(),
  };
}

/**
 * Whether the sheet leans away, along a link, from where the head points: on its way between the directions at the
 * ends, at an even rate. Beside it the flat of the nozzle would dig into what is laid.
 */
function bowsAway(places: readonly SheetPoint[]): boolean {
  const [first, last] = [places[0]!, places.at(-1)!];
  const along = [0];
  for (let n = 1; n < places.length; n++) {
    along.push(along.at(-1)! + length(sub(places[n]!.point, places[n - 1]!.point)));
  }
  const all = along.at(-1)!;
  return places.some(({ direction }, n) => {
    const share = all > 0 ? along[n]! / all : 0;
    const head = [0, 1, 2].map(
      (c) => (1 - share) * first.direction[c]! + share * last.direction[c]!,
    ) as unknown as Vec3;
    return dot(direction, head) < LINK_LEAN * length(head);
  });
}

/** Places on the stretch from a to b, without a. */
function* divided(
  a: SheetPoint,
  b: SheetPoint,
  z: number,
  step: number,
  placeAt: (p: Vec3) => SheetPoint,
): Generator<SheetPoint> {
  const count = Math.max(1, Math.ceil(Math.hypot(b.x - a.x, b.y - a.y) / step));
  const between = (p: SheetPoint, q: SheetPoint, share: number): SheetPoint =>
    placeAt([p.x + share * (q.x - p.x), p.y + share * (q.y - p.y), z]);
  function* halved(p: SheetPoint, q: SheetPoint, depth: number): Generator<SheetPoint> {
    const middle = between(p, q, 0.5);
    if (depth === 0 || (dot(p.direction, q.direction) >= TURN && !strays(p, middle, q))) yield q;
    else {
      yield* halved(p, middle, depth - 1);
      yield* halved(middle, q, depth - 1);
    }
  }
  let before = a;
  for (let i = 1; i <= count; i++) {
    const next = i < count ? between(a, b, i / count) : b;
    yield* halved(before, next, STRETCH_HALVINGS);
    before = next;
  }
}

/** Whether a place between two others lies off their chord. */
function strays(p: SheetPoint, middle: SheetPoint, q: SheetPoint): boolean {
  const chord = sub(q.point, p.point);
  const off = sub(middle.point, p.point);
  const long = dot(chord, chord);
  const share = long > 0 ? dot(off, chord) / long : 0;
  return length(sub(off, [share * chord[0], share * chord[1], share * chord[2]])) > CHORD_STRAY;
}

/** Width and height in the part of the bead between two places, from those in layer space, mm. */
function beadBetween(
  a: SheetPoint,
  b: SheetPoint,
  width: number,
  height: number,
): [number, number] {
  const [x, y] = [b.x - a.x, b.y - a.y];
  const far = Math.hypot(x, y);
  const scale = ({ lengths }: SheetPoint): number =>
    far > 0
      ? (sheetArea(lengths) * far) / sheetLength(lengths, x, y)
      : Math.sqrt(sheetArea(lengths));
  const over = Math.min(...[a, b].map(({ point, direction }) => point[2] / direction[2]));
  return [
    (width * (scale(a) + scale(b))) / 2,
    Math.min((height * (a.thickness + b.thickness)) / 2, over > 0 ? over : Infinity),
  ];
}
