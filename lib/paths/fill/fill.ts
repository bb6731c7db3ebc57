/**
 * Sparse fill: beads of the chosen pattern whose volume is the density times the area times the height.
 * Patterns start from the origin of layer space, so those of neighbouring layers meet.
 */
import { type Polygons, area } from '../../polygon/polygons.js';
import { DEG } from '../../base/vector.js';
import { NO_GROUP, type Bead } from '../layer-bead.js';
import { boxOf, isEmpty, lineLength } from '../../polygon/loops.js';
import { clipLine } from './clip.js';
import { gridOf } from '../../polygon/edge-grid.js';
import { MEAN_WAVE_LENGTH, waveLines } from './gyroid.js';
import { PathKind } from '../paths.js';
import { scan, segments } from './scan-lines.js';
import { type LayerSection, finished } from '../layer-section.js';
import { solidBeads } from './solid-fill.js';

export const lineAngle = (section: LayerSection): number =>
  section.rules.fill.angle * DEG + (section.layer % 2) * (Math.PI / 2);

export function fillBeads(section: LayerSection, p: Polygons, rank: number): Bead[] {
  const { rules, sizes, kernel } = section;
  const { density, pattern } = rules.fill;
  if (density === 0 || isEmpty(p)) return [];
  if (density === 1) return solidBeads(section, p, PathKind.fill, lineAngle(section), rank);
  const back = (0.5 - rules.overlap) * sizes.width;
  const clip = back > 0 ? kernel.offset(p, -back, { corners: 'round' }) : p;
  if (isEmpty(clip)) return [];
  const lines = patterns[pattern](section, clip);
  const flow = evenFlow(density * area(p), lines, sizes.spacing);
  return lines.map((xy) =>
    finished(section, {
      kind: PathKind.fill,
      xy,
      closed: false,
      width: sizes.width,
      flow,
      rank,
      group: NO_GROUP,
    }),
  );
}

/** Flow beyond this would be a wrong pattern: it is left to the few lines of a small area. */
const FILL_FLOW = { least: 0.8, most: 1.25 };

/**
 * The flow with which the lines hold exactly the wanted area: it evens out that their number is whole,
 * that they end short of the edge, and that the gyroid's waves are longer at some heights.
 */
function evenFlow(wanted: number, lines: readonly Float64Array[], spacing: number): number {
  const laid = lines.reduce((sum, xy) => sum + lineLength(xy), 0) * spacing;
  return laid > 0 ? Math.min(FILL_FLOW.most, Math.max(FILL_FLOW.least, wanted / laid)) : 1;
}

const patterns = { lines: crossedLines, triangles, gyroid };

function crossedLines(section: LayerSection, clip: Polygons): Float64Array[] {
  const pitch = section.sizes.spacing / section.rules.fill.density;
  return segments(scan(clip, lineAngle(section), pitch, pitch / 2), section.sizes.width);
}

/** Three families of lines; the third is half a pitch off, so that no three meet in one point. */
function triangles(section: LayerSection, clip: Polygons): Float64Array[] {
  const pitch = (3 * section.sizes.spacing) / section.rules.fill.density;
  return [0, 1, 2].flatMap((i) => {
    const angle = section.rules.fill.angle * DEG + (i * Math.PI) / 3;
    return segments(scan(clip, angle, pitch, i === 2 ? pitch / 2 : 0), section.sizes.width);
  });
}

/**
 * The period gives the density on average over all heights. The waves of one height are 0.94 to 1.23 of
 * their mean length: flatter stretches of the wall show wider in a layer.
 */
function gyroid({ sizes, rules, middle }: LayerSection, clip: Polygons): Float64Array[] {
  const { density, angle } = rules.fill;
  const period = (MEAN_WAVE_LENGTH * sizes.spacing) / density;
  const turned = turnedBy(clip.points, -angle * DEG);
  const grid = gridOf({ points: turned, start: clip.start });
  return waveLines(middle, boxOf(turned), period)
    .flatMap((line) => clipLine(grid, line, sizes.width))
    .map((line) => turnedBy(line, angle * DEG));
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
