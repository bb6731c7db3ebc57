/** The run-out ring: four lugs that lean outwards, each built at another angle of the table. */
import { applyDirection, applyPoint } from '../base/frame.js';
import { DEG, type Vec2, type Vec3 } from '../base/vector.js';
import type { SolidKernel } from '../kernel/solid.js';
import { moved } from '../mesh/build.js';
import { leaned, revolved, rod } from '../mesh/make-solids.js';
import type { AxisLayout } from './layout.js';
import type { TestPiece } from './piece.js';
import { block, middleOf, rounded, towards } from './prisms.js';

/** Lean of the lugs, deg: more than supports itself, so that each is a region of its own. */
const LEAN = 50;
/** Cut just over the edge of the ring, so that next to nothing of a lug hangs before it. */
const LUG = { radius: 5, inset: 12, low: 4.2, length: 34, cut: 16 };
const RING = { inner: 8, outer: 27, height: 10 };
const RING_SIDES = 72;

const [S, C] = [Math.sin(LEAN * DEG), Math.cos(LEAN * DEG)];

/** Along the axis of the lug that leans towards +Y, from where it begins. */
const alongLug = (l: number): Vec3 => [0, LUG.inset + l * S, LUG.low + l * C];

export function ringPiece(layout: AxisLayout, kernel: SolidKernel): TestPiece {
  const { tilt, turn, turnKey, lean, sense } = layout;
  const { inner, outer, height } = RING;
  const wall: Vec2[] = [
    [inner, 0],
    [outer, 0],
    [outer, height],
    [inner, height],
  ];
  // Lug k stands where the table's angle k x 90 deg brings it to lean the same way.
  const azimuths = [0, 1, 2, 3].map((k) => lean - (sense * k * Math.PI) / 2);
  const lugs = azimuths.map((a) => {
    const up = leaned(rod(LUG.radius, 0, LUG.length, RING_SIDES), LEAN, 0, LUG.low);
    // leaned() leans towards +X: shifted outwards, then turned.
    const out = moved(up, shiftX(LUG.inset));
    return moved(out, towards(a + Math.PI / 2));
  });
  const tab = moved(block([-3, outer - 1, 0], [3, outer + 5, 3]), towards(lean));
  const mesh = kernel.simplify(kernel.unite([revolved([wall], RING_SIDES), ...lugs, tab]), 0.001);
  const cuts = [...azimuths].reverse().map((a) => {
    const frame = towards(a);
    return {
      point: rounded(applyPoint(frame, alongLug(LUG.cut))),
      normal: rounded(applyDirection(frame, [0, S, C])),
    };
  });
  const v = spell(lean);
  const w = spell(lean + Math.PI / 2);
  const turned = sense > 0 ? 'clockwise' : 'counter-clockwise';
  const sign = sense > 0 ? '' : '-';
  return {
    name: 'run-out-ring',
    shows: `run-out of the table face and the centre of the turning joint ${turn.letter}`,
    mesh,
    held: false,
    job: {
      place: { at: middleOf(mesh) },
      regions: { most: 5, worth: 50, steer: { cuts } },
      layers: { thickness: 0.2 },
      paths: { contours: 2, fill: { density: 0.15 } },
    },
    page: [
      `Four lugs on a ring, numbered 0 1 2 3 from the tab ${turned} seen from above; each is built with ${tilt.letter} at +${LEAN} deg and ${turn.letter} at 0, 90, 180 and 270 deg. Look into the summary of the program: if it says other angles, or -${LEAN} deg for some lugs, do not use the numbers below.`,
      'Before it is taken off, measure over the table, or afterwards over a flat plate on which it stands: the height of the highest point of each lug, h0 h1 h2 h3, and the distance of its outermost point from the axis of the bore, r0 r1 r2 r3 (put a round pin into the bore and add half of it).',
      `Run-out: first = (h2 - h0) / 2, second = (h3 - h1) / 2, mm. Enter both at ${turnKey}.runOut if its axis vector in the file points up, both with the other sign if it points down.`,
      `Centre: the axis lies farther along ${v} 0 by (r0 - r2) / 2 mm and along ${w} 0 by ${sign === '-' ? '(r1 - r3)' : '(r3 - r1)'} / 2 mm. Add it to ${turnKey}.point, mm.`,
      'A wrong tilt or tilt axis moves all four alike and is not in these differences.',
    ],
  };
}

const shiftX = (x: number): Float64Array =>
  Float64Array.of(1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, x, 0, 0, 1);

const spell = (azimuth: number): string =>
  [Math.cos(azimuth), Math.sin(azimuth)].map((c) => String(Number(c.toFixed(3)) + 0)).join(' ');
