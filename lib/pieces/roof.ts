/**
 * The two pieces on a roof: slopes on either side, built upright, and what stands on each slope, its upper
 * part built square to the slope at tilt +A and -A.
 */
import { DEG, type Vec2 } from '../base/vector.js';
import type { Mesh } from '../base/mesh.js';
import { applyDirection, applyPoint } from '../base/frame.js';
import type { SolidKernel } from '../kernel/solid.js';
import { moved } from '../mesh/build.js';
import { HELD_WITHIN, PIECE_TILT, type AxisLayout } from './layout.js';
import type { TestPiece } from './piece.js';
import { block, lying, middleOf, rounded, towards } from './prisms.js';

/** Height of the upright rim below the slopes, mm. */
const ROOF_RIM = 4;
/** How far what stands on a slope reaches into it, so that both become one, mm. */
const SUNK = 1;
/** Height over the slope that is still built upright, so that nothing tilted is laid on a raw edge, mm. */
const UPRIGHT_HEIGHT = 2;

const [S, C] = [Math.sin(PIECE_TILT * DEG), Math.cos(PIECE_TILT * DEG)];

/** A point of the Y-Z plane at s along the slope from its foot, n over it, on the side of +Y. */
const onSlope = (half: number, s: number, n: number): Vec2 => [
  half - s * C + n * S,
  ROOF_RIM + s * S + n * C,
];

const mirrored = (loop: readonly Vec2[]): Vec2[] =>
  [...loop].reverse().map(([y, z]): Vec2 => [-y, z]);

interface Stand {
  /** Along the slope from its foot, mm. */
  readonly from: number;
  readonly to: number;
  readonly height: number;
}

function roof(
  half: number,
  width: number,
  flat: number,
  stands: readonly Stand[],
  standWidth: number,
  kernel: SolidKernel,
): Mesh {
  const length = (half - flat) / C;
  const outline: Vec2[] = [
    [half, 0],
    [half, ROOF_RIM],
    onSlope(half, length, 0),
    [-flat, ROOF_RIM + length * S],
    [-half, ROOF_RIM],
    [-half, 0],
  ];
  const body = lying([outline], -width / 2, width);
  const on = stands.flatMap(({ from, to, height }) => {
    const loop = [
      onSlope(half, from, -SUNK),
      onSlope(half, from, height),
      onSlope(half, to, height),
      onSlope(half, to, -SUNK),
    ];
    return [loop, mirrored(loop)].map((l) => lying([l], -standWidth / 2, standWidth));
  });
  // A tab at the foot marks the side that is built at rising tilt.
  const tab = block([-3, half - 1, 0], [3, half + 4, ROOF_RIM - 1]);
  return kernel.unite([body, ...on, tab]);
}

/** Cuts over both slopes, the one that is printed last first. */
function jobOf(layout: AxisLayout, mesh: Mesh, half: number): object {
  const frame = towards(layout.lean);
  const cut = (side: 1 | -1): object => {
    const [y, z] = onSlope(half, half / 2, UPRIGHT_HEIGHT);
    return {
      point: rounded(applyPoint(frame, [0, side * y, z])),
      normal: rounded(applyDirection(frame, [0, side * S, C])),
    };
  };
  return {
    place: { at: middleOf(mesh) },
    regions: { most: 3, worth: 50, steer: { cuts: [cut(-1), cut(1)] } },
    layers: { thickness: 0.2 },
    paths: { contours: 2, fill: { density: 0.15 } },
  };
}

const LADDER = { half: 34, width: 14, flat: 2, height: 6, at: [4, 13, 22, 31], length: 5 };

export function ladderPiece(layout: AxisLayout, kernel: SolidKernel): TestPiece {
  const { half, width, flat, height, at, length } = LADDER;
  const stands = at.map((from) => ({ from, to: from + length, height }));
  const { tilt, tiltKey } = layout;
  const apart = at[1]! - at[0]!;
  const mesh = moved(roof(half, width, flat, stands, width, kernel), towards(layout.lean));
  return {
    name: 'backlash-ladder',
    shows: `play and zero of the tilting joint ${tilt.letter}`,
    mesh,
    held: true,
    job: jobOf(layout, mesh, half),
    page: [
      `Four rungs on each slope, ${height} mm high, ${apart} mm apart. The lower ${UPRIGHT_HEIGHT} mm are built upright, the rest with ${tilt.letter} at +${PIECE_TILT} deg on the side with the tab, then at -${PIECE_TILT} deg on the other.`,
      heldWords(layout),
      'Measure with the depth rod of a calliper, square to the slope, how high each rung stands over it, from the foot of the slope to the ridge: h1 h2 h3 h4, on either side.',
      `Slope of the heights: k = (3 (h1 - h4) + (h2 - h3)) / (10 x ${apart}); positive where the rungs get lower towards the ridge. Take it on both sides: k+ at the tab, k- on the other.`,
      `Play: 57.3 x (k+ + k-) deg. Enter it at ${tiltKey}.backlash, deg. Less than 0 means that the readings do not tell it: enter 0.`,
      `Zero: 57.3 x (k- - k+) / 2 deg; the joint stands that much farther than it says. ${zeroWords(layout)}`,
      `A reading that is 0.02 mm wrong makes ${((57.3 * Math.sqrt(2) * 0.02) / (apart * Math.sqrt(5))).toFixed(2)} deg of play.`,
    ],
  };
}

const heldWords = ({ tilt, turn }: AxisLayout): string =>
  `The job names machine.json beside it: your machine file with ${turn.letter} held within ${HELD_WITHIN} deg, so that ${tilt.letter} has to go either way, and the play of ${tilt.letter} at 0, so that no move takes it up. Numbers go into your own file.`;

function zeroWords({ tilt, tiltKey, turnKey, lean }: AxisLayout): string {
  const by = [Math.cos(lean), Math.sin(lean)].map((c) => Number((-c).toFixed(3)) + 0);
  return `Move the switch or the offset of ${tilt.letter} in the controller by it; or, with e the zero in radians (k- - k+) / 2, enter e x ${by[0]}, e x ${by[1]}, 1 at table.normal, and lean ${turnKey}.axis by the same (${tiltKey} stays).`;
}

const CROSS = { half: 30, width: 24, flat: 6, height: 8, from: 8, to: 22 };

export function crossPiece(layout: AxisLayout, kernel: SolidKernel): TestPiece {
  const { half, width, flat, height, from, to } = CROSS;
  const { tilt, tiltKey, lean } = layout;
  const v = [Math.cos(lean), Math.sin(lean)].map((c) => Number(c.toFixed(3)) + 0);
  const twice = (2 * S).toFixed(3);
  const stand = { from, to, height };
  const mesh = moved(roof(half, width, flat, [stand], to - from, kernel), towards(lean));
  return {
    name: 'axis-cross',
    shows: `where the axis of the tilting joint ${tilt.letter} lies`,
    mesh,
    held: true,
    job: jobOf(layout, mesh, half),
    page: [
      `A square boss of ${to - from} mm on each slope, ${height} mm high. Its lower ${UPRIGHT_HEIGHT} mm are built upright, its upper part with ${tilt.letter} at +${PIECE_TILT} deg on the side with the tab, then at -${PIECE_TILT} deg on the other. If the axis is where the file says, no step shows where they meet.`,
      heldWords(layout),
      'First correct play and zero of the joint (backlash ladder): they move the bosses, too.',
      'On each side measure the step at the meeting line on the face towards the ridge and on the face towards the foot. t is half of: how far the upper part stands out towards the ridge, plus how far it stands back at the foot.',
      `And the height of the boss over the slope, less ${height} mm, at its middle: n.`,
      `With t+ n+ at the tab and t- n- on the other side: the axis lies farther along ${v.join(' ')} 0 by (n+ - n-) / ${twice} mm, and higher by (t+ + t-) / ${twice} mm.`,
      `Add both to ${tiltKey}.point, mm. The sign: a positive number moves the point that way.`,
    ],
  };
}
