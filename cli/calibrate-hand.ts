/**
 * `tiltwright calibrate ring`, `circle` and `three`: answers from a few readings taken by hand, without a plan.
 */
import { Command, Option } from 'commander';
import { Fault } from '../lib/base/fault.js';
import { DEG, type Vec2 } from '../lib/base/vector.js';
import { CIRCLE_FITS, type CircleFit, circleThrough } from '../lib/calibrate/circle.js';
import { firstHarmonic, tiltAxis, tiltOf } from '../lib/calibrate/dial.js';
import { rowsOf } from '../lib/calibrate/touch-files.js';
import { readText } from './files.js';
import { listFrom, numberFrom, plainNumber } from './numbers.js';
import { printLines } from './streams.js';

export const number =
  (flag: string, least: number, most: number, whole = false) =>
  (text: string): number =>
    numberFrom('calibrate', flag, text, [least, most], whole);
export const list =
  (flag: string, names: readonly string[], optional = 0) =>
  (text: string): number[] =>
    listFrom('calibrate', flag, text, names, optional);

export function ringCommand(): Command {
  return new Command('ring')
    .description(
      'tilt of the table face from heights around it: CSV with the header "angle deg,height mm"',
    )
    .argument('<file>', 'readings')
    .requiredOption('--radius <mm>', 'where they were taken', number('radius', 0.1, 1e4))
    .action(async (path: string, { radius }: { radius: number }) => {
      const rows = await numbersOf(path, ['angle deg', 'height mm']);
      const h = firstHarmonic(
        rows.map((r) => r[0]! * DEG),
        rows.map((r) => r[1]!),
      );
      printLines([
        `first harmonic: mean ${h.mean.toFixed(4)} mm, cosine ${h.cosine.toFixed(4)} mm, sine ${h.sine.toFixed(4)} mm`,
        `the face is highest at ${(h.direction / DEG).toFixed(1)} deg and runs out by ${(2 * h.amplitude).toFixed(4)} mm in all at radius ${radius} mm: tilted by ${(tiltOf(h.amplitude, radius) / DEG).toFixed(4)} deg`,
        `left over: ${h.left.toFixed(4)} mm (warp, dirt, noise)`,
      ]);
    });
}

export function circleCommand(): Command {
  return new Command('circle')
    .description('centre of a circle, such as of one mark as the table turns: CSV "x mm,y mm"')
    .argument('<file>', 'readings')
    .addOption(new Option('--fit <kind>', 'which fit').choices(CIRCLE_FITS).default('geometric'))
    .action(async (path: string, { fit }: { fit: CircleFit }) => {
      const points = (await numbersOf(path, ['x mm', 'y mm'])) as unknown as Vec2[];
      const circle = circleThrough(points, fit);
      const arc = circle.arc / DEG;
      printLines([
        `${circle.fit} fit of ${points.length} points: centre ${circle.centre[0].toFixed(4)}, ${circle.centre[1].toFixed(4)} mm, radius ${circle.radius.toFixed(4)} mm`,
        `left over: ${Math.sqrt(circle.squares / points.length).toFixed(4)} mm; the points span ${arc.toFixed(0)} deg${arc < 90 ? ', so little that the centre is uncertain' : ''}`,
      ]);
    });
}

interface ThreeFlags {
  readonly at: number;
  readonly tilt: number;
  readonly flat: number;
  readonly heights: number[];
}

export function threeCommand(): Command {
  return new Command('three')
    .description(
      'the tilting axis from three touches of the face at one place: flat, tilted by +a and by -a',
    )
    .requiredOption('--at <mm>', 'place across the tilting axis', number('at', -1e4, 1e4))
    .requiredOption('--tilt <deg>', 'a', number('tilt', -180, 180))
    .requiredOption('--heights <flat,plus,minus>', 'mm', list('heights', ['flat', 'plus', 'minus']))
    .requiredOption('--flat <mm>', 'diameter of the flat of the tip', number('flat', 0, 10))
    .action(({ at, tilt, flat, heights }: ThreeFlags) => {
      const axis = tiltAxis(at, tilt * DEG, flat, ...(heights as [number, number, number]));
      printLines([
        `the face lies ${axis.height.toFixed(4)} mm over the tilting axis, which runs at ${axis.across.toFixed(4)} mm`,
        `0.02 mm of noise in every touch make ${(0.02 * axis.noiseGain).toFixed(3)} mm of that height`,
      ]);
    });
}

async function numbersOf(path: string, columns: string[]): Promise<number[][]> {
  const text = await readText(path, 'the readings');
  return rowsOf(text, columns, path).map(({ cells, line }) =>
    cells.map((cell, i) => {
      const value = plainNumber(cell);
      if (Number.isFinite(value)) return value;
      throw new Fault('readings/number', `line ${line}: ${columns[i]} is "${cell}", no number`, {
        line,
        file: path,
      });
    }),
  );
}
