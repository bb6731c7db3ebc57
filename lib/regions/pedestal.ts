/**
 * A pedestal lifts the part so that the head gets under it: the part on the table goes in, part and
 * pedestal as one solid come out. Under each place where the part's foot touches the table stands a
 * column; a plate under all of them holds them to the table. It is sawn off later, just over the foot.
 *
 * The columns reach up into the foot by the height that the first layer would have had, so what is
 * sawn off is what would have lain on the table.
 */
import { Fault } from '../base/fault.js';
import { shift } from '../base/frame.js';
import type { Mesh } from '../base/mesh.js';
import type { Vec2 } from '../base/vector.js';
import type { SolidKernel } from '../kernel/solid.js';
import { moved } from '../mesh/build.js';
import { bounds } from '../mesh/measure.js';
import { type Cap, capsOf } from './caps.js';
import { type Section, sectionOf } from './section.js';

/** How far the plate stands out beyond the columns, mm. */
const MARGIN = 3;
/** Thickness of the plate, mm, but at most half of the pedestal. */
const PLATE = 1.2;

type Outline = Vec2[];

/**
 * @param part on the table, z = 0
 * @param height of the pedestal, mm, more than 0
 * @param foot how far the columns reach into the part, mm
 * @throws Fault `regions/no-foot` if the part does not come down to that height
 */
export function onPedestal(part: Mesh, height: number, foot: number, kernel: SolidKernel): Mesh {
  const low = bounds(part).least[2];
  const section = sectionOf(part, { point: [0, 0, low + foot], normal: [0, 0, 1] });
  const outlines = section ? capsOf(section).map((cap) => outlineOf(section, cap)) : [];
  if (outlines.length === 0) {
    throw new Fault(
      'regions/no-foot',
      `the part does not come down to ${foot} mm over the table, where a pedestal would hold it`,
    );
  }
  const columns = outlines.map((outline) => kernel.prism(outline, 0, height + low + foot));
  const plate = kernel.prism(
    grown(hullOf(outlines.flat()), MARGIN),
    0,
    Math.min(PLATE, height / 2),
  );
  return kernel.unite([moved(part, shift([0, 0, height])), ...columns, plate]);
}

/** The outer outline of a cap, counter-clockwise. */
function outlineOf({ points, start }: Section, cap: Cap): Outline {
  const count = start[cap.loops[0]! + 1]! - start[cap.loops[0]!]!;
  const first = start[cap.loops[0]!]!;
  const of = cap.nodes.filter((p) => p >= first && p < first + count);
  return Array.from(of, (p) => [points[3 * p]!, points[3 * p + 1]!]);
}

/** Convex hull, counter-clockwise (Andrew's monotone chain, 1979). */
function hullOf(points: Outline): Outline {
  const sorted = [...points].sort((a, b) => a[0] - b[0] || a[1] - b[1]);
  const turn = (o: Vec2, a: Vec2, b: Vec2): number =>
    (a[0] - o[0]) * (b[1] - o[1]) - (a[1] - o[1]) * (b[0] - o[0]);
  const chain = (of: Outline): Outline => {
    const out: Outline = [];
    for (const p of of) {
      while (out.length > 1 && turn(out.at(-2)!, out.at(-1)!, p) <= 0) out.pop();
      out.push(p);
    }
    return out.slice(0, -1);
  };
  return [...chain(sorted), ...chain(sorted.reverse())];
}

/** Points on a round of this many corners about each corner stand for an outline grown. */
const ROUND = 16;

function grown(outline: Outline, by: number): Outline {
  return hullOf(
    outline.flatMap(([x, y]) =>
      Array.from({ length: ROUND }, (_, i): Vec2 => {
        const a = (2 * Math.PI * i) / ROUND;
        return [x + by * Math.cos(a), y + by * Math.sin(a)];
      }),
    ),
  );
}
