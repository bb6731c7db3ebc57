/** The two pieces that are built upright in one region: bridges and leaning blades. */
import { DEG, type Vec2 } from '../base/vector.js';
import type { SolidKernel } from '../kernel/solid.js';
import type { Mesh } from '../base/mesh.js';
import { moved } from '../mesh/build.js';
import type { TestPiece } from './piece.js';
import { block, lying, towards } from './prisms.js';

/** Clear widths, mm. */
export const SPANS = [4, 8, 12, 16, 20, 24] as const;
const BRIDGE_PIECE = { pier: 4, depth: 10, plate: 2, clear: 10, beam: 2 };

/** One wall with windows of rising width; upright, in one region. */
export function bridgePiece(kernel: SolidKernel): TestPiece {
  const { pier, depth, plate, clear, beam } = BRIDGE_PIECE;
  const total = SPANS.reduce((sum, s) => sum + s, pier * (SPANS.length + 1));
  const half = total / 2;
  const top = plate + clear + beam;
  const wall = (from: number, to: number, low: number, high: number): Mesh =>
    block([-depth / 2, from, low], [depth / 2, to, high]);
  const edges = SPANS.reduce<number[]>((at, span) => [...at, at.at(-1)! + pier + span], [-half]);
  const piers = edges.map((from) => wall(from, from + pier, 0, top));
  const beams = wall(-half, half, top - beam, top);
  const foot = block([-depth, -half, 0], [depth, half, plate]);
  return {
    name: 'bridge-spans',
    shows: 'how wide a gap the material bridges',
    mesh: moved(kernel.unite([...piers, beams, foot]), towards(0)),
    held: false,
    // All windows are taken to be bridged, so that the first layer of the beam is laid along it.
    job: { ...upright, layers: { ...upright.layers, bridge: Math.max(...SPANS) } },
    page: [
      `Windows ${SPANS.join(', ')} mm wide and ${clear} mm high under a beam of ${beam} mm, all in one region, upright.`,
      `Measure the clear height in the middle of each window: it is ${clear} mm less the sag.`,
      'The widest window that sags by less than one layer is what your material bridges at this speed and fan.',
      'The job takes all windows to be bridged, whatever your machine can: the sag is the answer.',
      'Enter its width at layers.bridge of the job, mm: what spans no more does not count as hanging then, and its beads run along the span.',
      'If even the narrowest sags, raise the fan (material file: fan, share 0 to 1) or lower nozzleTemperature, deg C, and print it again.',
    ],
  };
}

const upright = {
  regions: { most: 1 },
  layers: { thickness: 0.2 },
  paths: { contours: 2, fill: { density: 0.2 } },
};

/** From upright, deg. */
export const BLADES = [20, 30, 40, 45, 50, 55, 60, 65, 70] as const;
const BLADE_PIECE = { width: 8, apart: 10, thick: 2.4, rise: 10, plate: 2 };

/** Blades that lean more and more; upright, in one region. */
export function fanPiece(kernel: SolidKernel): TestPiece {
  const { width, apart, thick, rise, plate } = BLADE_PIECE;
  const length = apart * BLADES.length;
  const blades = BLADES.map((lean, i) => {
    const tan = Math.tan(lean * DEG);
    const across = thick / Math.cos(lean * DEG);
    const low = plate - 1;
    const y = (z: number): number => (z - plate) * tan;
    const loop: Vec2[] = [
      [y(low), low],
      [y(low) + across, low],
      [y(plate + rise) + across, plate + rise],
      [y(plate + rise), plate + rise],
    ];
    return lying([loop], -length / 2 + i * apart + (apart - width) / 2, width);
  });
  const foot = block([-length / 2, -6, 0], [length / 2, 12, plate]);
  // A tab marks the end of the steepest blade.
  const tab = block([-length / 2 - 5, -3, 0], [-length / 2 + 1, 3, plate]);
  const mesh = kernel.unite([foot, tab, ...blades]);
  const shift = Float64Array.of(1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, 0, -10, 0, 1);
  return {
    name: 'overhang-fan',
    shows: 'how far from upright the material builds by itself',
    mesh: moved(mesh, shift),
    held: false,
    job: upright,
    page: [
      `Blades that lean by ${BLADES.join(', ')} deg from upright, from the tab on, ${thick} mm thick, all in one region.`,
      'Report and check say that the steep blades hang, and the command ends with code 3: that is what they are for.',
      'Look at the undersides: the last blade before the one that sags, curls or shows loose beads is what your material, fan and layer thickness build by themselves.',
      'Enter its lean at regions.overhang of the job, deg. Rather take the blade before it: parts are less even than blades.',
      'Print it again after a change of layer thickness, nozzle, fan or material.',
    ],
  };
}
