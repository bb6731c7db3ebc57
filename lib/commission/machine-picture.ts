/**
 * A picture of a machine as SVG, for a repository or a page: its bodies at the ready place in a parallel
 * projection from the operator's left, with the joints as arrows. Faces that look away are left out, the rest is
 * painted from far to near (painter's algorithm): body by body, none before one that lies behind it along an axis of
 * the machine, and within a body by the depth of the middles of its faces. Light and dark pages get the colours that suit them.
 */
import { type Frame, applyPoint } from '../base/frame.js';
import type { Mesh } from '../base/mesh.js';
import {
  type Vec3,
  add,
  along,
  cross,
  dot,
  length,
  pointAt,
  scale,
  square,
  sub,
  unit,
} from '../base/vector.js';
import { carriedBy, machineFromHead, machineFromPart } from '../machine/joint-chain.js';
import type { Machine } from '../machine/machine.js';
import { jointArrow } from './joint-arrows.js';
import { travelText } from './joint-words.js';
import { escapeHtml } from '../base/page-text.js';

type BodyPaint = 'head' | 'table' | 'frame';

interface Facet {
  readonly points: readonly Vec3[];
  readonly paint: BodyPaint;
}

const FACETS_AROUND = 40;
const PICTURE_WIDTH = 900;
const PICTURE_HEIGHT = 760;
const PICTURE_MARGIN = 24;
/** Room for title and legend, px. */
const HEAD_ROOM = 82;
/** How far the middle of a letter lies beyond its arrow, and its foot under its middle, px. */
const LABEL_AWAY = 22;
const LABEL_SINK = 6;
/** From where it is seen, and from where the light comes. */
const SEEN_FROM = unit([-0.5, -1, 0.55]);
const LIT_FROM = unit([-0.75, -0.6, 1]);

/**
 * A picture of a machine at its ready place, with an arrow for each joint the way that it counts.
 * @returns SVG of 900 x 760 px with title, names of the joints, their travels and a scale in mm
 */
export function machinePicture(machine: Machine): string {
  const right = unit(cross([0, 0, 1], SEEN_FROM));
  const up = cross(SEEN_FROM, right);
  const solids = solidsOf(machine);
  const facets = solids.flatMap((solid) => solid.facets);
  const arrows = machine.joints.map((_, j) => jointArrow(machine, machine.ready, j));
  const flat = (p: Vec3): readonly [number, number] => [dot(p, right), -dot(p, up)];
  const all = [...facets.flatMap((f) => f.points), ...arrows.flatMap((a) => a.points)].map(flat);
  const range = (c: 0 | 1): readonly [number, number] =>
    all.reduce(
      ([low, high], p) => [Math.min(low, p[c]), Math.max(high, p[c])],
      [Infinity, -Infinity],
    );
  const [[x0, x1], [y0, y1]] = [range(0), range(1)];
  const fit = Math.min(
    (PICTURE_WIDTH - 2 * PICTURE_MARGIN) / (x1 - x0),
    (PICTURE_HEIGHT - HEAD_ROOM - 4 * PICTURE_MARGIN) / (y1 - y0),
  );
  const at = (p: Vec3): string => {
    const [x, y] = flat(p);
    const px = PICTURE_WIDTH / 2 + (x - (x0 + x1) / 2) * fit;
    return `${px.toFixed(1)},${(HEAD_ROOM + PICTURE_MARGIN + (y - y0) * fit).toFixed(1)}`;
  };
  const body = fromFarToNear(solids).flatMap(({ facets: own }) =>
    own
      .map((f) => ({ f, d: depthOf(f.points) }))
      .sort((a, b) => a.d - b.d)
      .map(({ f }) => facetOf(f, at)),
  );
  const legend = [true, false].map((table) => jointsText(machine, table));
  return `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 ${PICTURE_WIDTH} ${PICTURE_HEIGHT}" width="${PICTURE_WIDTH}" height="${PICTURE_HEIGHT}" role="img" aria-label="${escapeHtml(machine.name)}">
<style>${MACHINE_PICTURE_STYLE}</style>
<rect class="ground" width="${PICTURE_WIDTH}" height="${PICTURE_HEIGHT}"/>
<text class="title" x="${PICTURE_MARGIN}" y="34">${escapeHtml(machine.name)}</text>
${legend.map((text, i) => `<text class="soft" x="${PICTURE_MARGIN}" y="${56 + 18 * i}">${escapeHtml(text)}</text>`).join('\n')}
${body.join('\n')}
${arrows.map((a, j) => arrowOf(a, j, at)).join('\n')}
${scaleBar(fit)}
</svg>
`;
}

interface PaintedSolid {
  /** Those that face the view. */
  readonly facets: readonly Facet[];
  readonly least: Vec3;
  readonly most: Vec3;
}

const depthOf = (points: readonly Vec3[]): number =>
  points.reduce((sum, p) => sum + dot(p, SEEN_FROM), 0) / points.length;

/** Bodies that lie on one another, mm. */
const TOGETHER = 0.01;

/** True if one box lies wholly on the side of another from which it is seen, along one of the axes. */
const isBefore = (a: PaintedSolid, b: PaintedSolid): boolean =>
  [0, 1, 2].some((c) =>
    SEEN_FROM[c]! > 0 ? a.least[c]! >= b.most[c]! - TOGETHER : a.most[c]! <= b.least[c]! + TOGETHER,
  );

/** Solids one after the other, none before one that lies behind it; where boxes reach into one another, by depth. */
function fromFarToNear(solids: readonly PaintedSolid[]): PaintedSolid[] {
  const left = [...solids].sort((a, b) => depthOf([a.least, a.most]) - depthOf([b.least, b.most]));
  const out: PaintedSolid[] = [];
  while (left.length > 0) {
    const free = left.findIndex((a) =>
      left.every((b) => a === b || !isBefore(a, b) || isBefore(b, a)),
    );
    out.push(...left.splice(Math.max(0, free), 1));
  }
  return out;
}

/** "the table: A, -100 to 100 deg; C, endless" */
function jointsText({ joints }: Machine, table: boolean): string {
  const own = joints.filter((j) => j.carriesTable === table);
  const told = own.map((j) => `${j.letter}, ${travelText(j)}`).join('; ');
  return `the ${table ? 'table' : 'head'} is carried by ${told || 'the frame'}`;
}

function facetOf({ points, paint }: Facet, at: (p: Vec3) => string): string {
  const lit = 0.55 + 0.45 * Math.max(0, dot(normalOf(points), LIT_FROM));
  return `<polygon class="${paint}" style="--lit:${Math.round(100 * lit)}%" points="${points.map(at).join(' ')}"/>`;
}

function arrowOf(
  { points, label, colour }: ReturnType<typeof jointArrow>,
  j: number,
  at: (p: Vec3) => string,
): string {
  const [before, end] = [points.at(-2)!, points.at(-1)!].map((p) => at(p).split(',').map(Number));
  const way = [end![0]! - before![0]!, end![1]! - before![1]!];
  const far = LABEL_AWAY / Math.max(1e-9, Math.hypot(...way));
  const [x, y] = [end![0]! + far * way[0]!, end![1]! + far * way[1]! + LABEL_SINK];
  const mark = `<marker id="m${j}" viewBox="0 0 10 10" refX="6" refY="5" markerWidth="6" markerHeight="6" orient="auto"><path d="M0 0L10 5L0 10z" fill="${colour}"/></marker>`;
  return `${mark}<polyline class="arrow" stroke="${colour}" marker-end="url(#m${j})" points="${points.map(at).join(' ')}"/><text class="label" style="fill:${colour}" x="${x.toFixed(1)}" y="${y.toFixed(1)}">${label}</text>`;
}

function scaleBar(fit: number): string {
  const long = [20, 50, 100, 200].findLast((l) => l * fit <= PICTURE_WIDTH / 4) ?? 10;
  const y = PICTURE_HEIGHT - PICTURE_MARGIN;
  return `<path class="bar" d="M${PICTURE_MARGIN} ${y - 5}v10M${PICTURE_MARGIN} ${y}h${(long * fit).toFixed(1)}m0 -5v10"/><text class="soft" x="${(PICTURE_MARGIN + long * fit + 8).toFixed(1)}" y="${y + 4}">${long} mm along the picture</text>`;
}

const normalOf = ([a, b, c]: readonly Vec3[]): Vec3 => unit(cross(sub(b!, a!), sub(c!, a!)));

function solidsOf(machine: Machine): PaintedSolid[] {
  const { ready, face, stack, headBoxes, headMeshes, tableMesh, tableThickness, obstacles } =
    machine;
  const head = machineFromHead(machine, ready);
  const table = machineFromPart(machine, ready);
  const profile =
    stack.length > 0
      ? [{ above: stack[0]!.above, radius: 0 }, ...stack, { above: stack.at(-1)!.above, radius: 0 }]
      : [];
  const plate =
    face.shape === 'disc'
      ? turned(
          [
            [-tableThickness, 0],
            [-tableThickness, face.radius],
            [0, face.radius],
            [0, 0],
          ],
          Z_UP,
        )
      : box(
          [-face.size[0] / 2, -face.size[1] / 2, -tableThickness],
          [face.size[0] / 2, face.size[1] / 2, 0],
        );
  return [
    ...painted(
      turned(
        profile.map(({ above, radius }) => [above, radius]),
        Z_UP,
      ),
      head,
      'head',
    ),
    ...headBoxes.flatMap((b) => painted(box(b.from, b.to), head, 'head')),
    ...headMeshes.flatMap(({ tree }) => painted(triangles(tree.mesh), head, 'head')),
    ...painted(tableMesh ? triangles(tableMesh) : plate, table, 'table'),
    ...obstacles.flatMap(({ solid, carriedBy: joint }) => {
      const frame = carriedBy(machine, ready, joint);
      if (solid.shape === 'mesh') return painted(triangles(solid.mesh), frame, 'frame');
      if (solid.shape === 'box') return painted(box(solid.from, solid.to), frame, 'frame');
      const long = length(sub(solid.to, solid.from));
      const rod: [number, number][] = [
        [0, 0],
        [0, solid.radius],
        [long, solid.radius],
        [long, 0],
      ];
      return painted(
        turned(rod, { from: solid.from, along: unit(sub(solid.to, solid.from)) }),
        frame,
        'frame',
      );
    }),
  ];
}

/** One solid where it stands, or none where it has no faces. */
function painted(
  faces: readonly (readonly Vec3[])[],
  frame: Frame,
  paint: BodyPaint,
): readonly PaintedSolid[] {
  if (faces.length === 0) return [];
  const placed = faces.map((points) => points.map((p) => applyPoint(frame, p)));
  const end = (pick: (a: number, b: number) => number): Vec3 =>
    placed.flat().reduce((a, b) => [pick(a[0], b[0]), pick(a[1], b[1]), pick(a[2], b[2])]);
  const facets = placed
    .filter((points) => dot(normalOf(points), SEEN_FROM) > 0)
    .map((points) => ({ points, paint }));
  return [{ facets, least: end(Math.min), most: end(Math.max) }];
}

interface Spindle {
  readonly from: Vec3;
  readonly along: Vec3;
}
const Z_UP: Spindle = { from: [0, 0, 0], along: [0, 0, 1] };

/** An outline of heights and radii turned about an axis, outside counter-clockwise. */
function turned(
  outline: readonly (readonly [number, number])[],
  { from, along: axis }: Spindle,
): Vec3[][] {
  const u = square(axis);
  const v = cross(axis, u);
  const on = (height: number, radius: number, i: number): Vec3 => {
    const a = (2 * Math.PI * i) / FACETS_AROUND;
    const out = add(scale(u, radius * Math.cos(a)), scale(v, radius * Math.sin(a)));
    return add(along(from, axis, height), out);
  };
  return outline.slice(1).flatMap(([h1, r1], k): Vec3[][] => {
    const [h0, r0] = outline[k]!;
    if (h0 === h1 && r0 === r1) return [];
    // A flat end is one face: cut into sectors it would be painted over by what lies under it.
    if (h0 === h1 && r0 === 0)
      return [Array.from({ length: FACETS_AROUND }, (_, i) => on(h1, r1, -i))];
    if (h0 === h1 && r1 === 0)
      return [Array.from({ length: FACETS_AROUND }, (_, i) => on(h0, r0, i))];
    return Array.from({ length: FACETS_AROUND }, (_, i) => {
      const ring = [on(h0, r0, i), on(h0, r0, i + 1), on(h1, r1, i + 1), on(h1, r1, i)];
      if (r0 === 0) return [ring[0]!, ring[2]!, ring[3]!];
      return r1 === 0 ? ring.slice(0, 3) : ring;
    });
  });
}

function box([a, b, c]: Vec3, [d, e, f]: Vec3): Vec3[][] {
  return [
    [
      [a, b, f],
      [d, b, f],
      [d, e, f],
      [a, e, f],
    ],
    [
      [a, b, c],
      [a, e, c],
      [d, e, c],
      [d, b, c],
    ],
    [
      [a, b, c],
      [d, b, c],
      [d, b, f],
      [a, b, f],
    ],
    [
      [d, b, c],
      [d, e, c],
      [d, e, f],
      [d, b, f],
    ],
    [
      [d, e, c],
      [a, e, c],
      [a, e, f],
      [d, e, f],
    ],
    [
      [a, e, c],
      [a, b, c],
      [a, b, f],
      [a, e, f],
    ],
  ];
}

const triangles = ({ vertices, triangles: corners }: Mesh): Vec3[][] =>
  Array.from({ length: corners.length / 3 }, (_, t) =>
    [0, 1, 2].map((k) => pointAt(vertices, corners[3 * t + k]!)),
  );

const MACHINE_PICTURE_STYLE = `
.ground { fill: #fdfdfb; } text { font-family: system-ui, sans-serif; fill: #1d1d1b; }
.title { font-size: 20px; font-weight: 600; } .soft { font-size: 13px; fill: #5c5c58; }
.head { fill: color-mix(in srgb, #7d8696 var(--lit), #14161a); stroke: none; }
.table { fill: color-mix(in srgb, #f2f1ea var(--lit), #55554f); stroke: #8a8a84; stroke-width: 0.4; }
.frame { fill: color-mix(in srgb, #b9b8b0 var(--lit), #4a4a46); stroke: #6b6b66; stroke-width: 0.5; fill-opacity: 0.55; }
.arrow { fill: none; stroke-width: 2.5; } .label { font-size: 17px; font-weight: 700; text-anchor: middle; paint-order: stroke; stroke: #fdfdfb; stroke-width: 4px; }
.bar { fill: none; stroke: #5c5c58; stroke-width: 1.5; }
@media (prefers-color-scheme: dark) {
.ground { fill: #1c1d20; } text { fill: #f0efea; } .soft { fill: #aaaaa3; } .bar { stroke: #aaaaa3; }
.table { fill: color-mix(in srgb, #74767c var(--lit), #1c1d20); } .frame { fill: color-mix(in srgb, #5a5b60 var(--lit), #1c1d20); }
.label { stroke: #1c1d20; }
}`;
