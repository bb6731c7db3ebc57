/**
 * An area goes in; beads of the chosen pattern come out whose volume is the density times the area
 * times the height. Patterns are laid out from the origin of layer space, so those of neighbouring
 * layers meet.
 */
import { type Polygons } from '../base/polygons.js';
import { DEG } from '../base/vector.js';
import { ALONE, type Bead } from './layer-bead.js';
import { boxOf, isEmpty } from './loops.js';
import { clipLine } from './clip.js';
import { gridOf } from './grid.js';
import { MEAN_WAVE_LENGTH, waveLines } from './gyroid.js';
import { PathKind } from './paths.js';
import { scan, segments } from './scan.js';
import { type Section, finished } from './section.js';
import { solidBeads } from './solid.js';

export const lineAngle = (section: Section): number =>
  section.rules.fill.angle * DEG + (section.layer % 2) * (Math.PI / 2);

export function fillBeads(section: Section, p: Polygons, rank: number): Bead[] {
  const { rules, sizes, kernel } = section;
  const { density, pattern } = rules.fill;
  if (density === 0 || isEmpty(p)) return [];
  if (density === 1) return solidBeads(section, p, PathKind.fill, lineAngle(section), rank);
  const back = (0.5 - rules.overlap) * sizes.width;
  const clip = back > 0 ? kernel.offset(p, -back, { corners: 'round' }) : p;
  if (isEmpty(clip)) return [];
  const { lines, flow } = patterns[pattern](section, clip);
  return lines.map((xy) =>
    finished(section, {
      kind: PathKind.fill,
      xy,
      closed: false,
      width: sizes.width,
      flow,
      rank,
      group: ALONE,
    }),
  );
}

interface Pattern {
  readonly lines: Float64Array[];
  readonly flow: number;
}

const patterns = { lines: crossedLines, triangles, gyroid };

function crossedLines(section: Section, clip: Polygons): Pattern {
  const pitch = section.sizes.spacing / section.rules.fill.density;
  const lines = segments(scan(clip, lineAngle(section), pitch, pitch / 2), section.sizes.width);
  return { lines, flow: 1 };
}

/** Three families of lines; the third is half a pitch off, so that no three meet in one point. */
function triangles(section: Section, clip: Polygons): Pattern {
  const pitch = (3 * section.sizes.spacing) / section.rules.fill.density;
  const lines = [0, 1, 2].flatMap((i) => {
    const angle = section.rules.fill.angle * DEG + (i * Math.PI) / 3;
    return segments(scan(clip, angle, pitch, i === 2 ? pitch / 2 : 0), section.sizes.width);
  });
  return { lines, flow: 1 };
}

/**
 * The period gives the density on average over heights; where the waves are longer or shorter than
 * on average (by -6 to +23%) the flow evens it out, as the wall is steeper or flatter there.
 */
function gyroid({ sizes, rules, middle }: Section, clip: Polygons): Pattern {
  const { density, angle } = rules.fill;
  const period = (MEAN_WAVE_LENGTH * sizes.spacing) / density;
  const turned = turnedBy(clip.points, -angle * DEG);
  const grid = gridOf({ points: turned, start: clip.start });
  const { lines, length } = waveLines(middle, boxOf(turned), period);
  return {
    lines: lines
      .flatMap((line) => clipLine(grid, line, sizes.width))
      .map((line) => turnedBy(line, angle * DEG)),
    flow: MEAN_WAVE_LENGTH / length,
  };
}

function turnedBy(xy: Float64Array, angle: number): Float64Array {
  const [c, s] = [Math.cos(angle), Math.sin(angle)];
  const out = new Float64Array(xy.length);
  for (let i = 0; i < xy.length; i += 2) {
    out[i] = xy[i]! * c - xy[i + 1]! * s;
    out[i + 1] = xy[i]! * s + xy[i + 1]! * c;
  }
  return out;
}
