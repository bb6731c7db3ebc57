/**
 * `tiltwright calibrate`: `plan` and `play` write a program of touches and a form for the readings, `fit`
 * turns them into a measured machine file; `ring`, `circle` and `three` give answers from a few readings
 * taken by hand.
 */
import { createReadStream, existsSync } from 'node:fs';
import { readdir } from 'node:fs/promises';
import { text as textOf } from 'node:stream/consumers';
import { Command, Option } from 'commander';
import type { DeviationFit, Machine, PlayFit, Target, Watch } from '../lib/index.js';
import { Fault } from '../lib/base/fault.js';
import { within } from '../lib/base/json.js';
import { parse } from '../lib/base/schema.js';
import { fitTouches } from '../lib/calibrate/deviation-fit.js';
import { planPlay } from '../lib/calibrate/play-plan.js';
import { touchProgram } from '../lib/calibrate/program.js';
import { planTouches } from '../lib/calibrate/touch-plan.js';
import { readMachine } from '../lib/machine/read-files.js';
import { DEG, type Vec2 } from '../lib/base/vector.js';
import { CIRCLE_FITS, type CircleFit, circleThrough } from '../lib/calibrate/circle.js';
import { firstHarmonic, tiltAxis, tiltOf } from '../lib/calibrate/dial.js';
import {
  formText,
  planFile,
  planText,
  playTouches,
  readReadings,
  rowsOf,
} from '../lib/calibrate/touch-files.js';
import { formPage } from '../lib/calibrate/form.js';
import {
  measuredBy,
  measuredFile,
  measuredPlay,
  type FileText,
} from '../lib/calibrate/measured.js';
import { modelOf } from '../lib/calibrate/deviation-model.js';
import { fitPlay, type Weight } from '../lib/calibrate/play-fit.js';
import { tipSpreadOver } from '../lib/calibrate/spread.js';
import { type TargetFile, targetFrom } from '../lib/calibrate/targets.js';
import { fitLines, fitRecord, planLines } from './calibrate-lines.js';
import { playFitLines, playFitRecord, playPlanLines } from './calibrate-play-lines.js';
import { readJson, readText, writeNew } from './files.js';
import { findingLines } from './finding-lines.js';
import { machineAt, machineFileAt } from './machine-file.js';
import { listFrom, numberFrom, plainNumber } from './numbers.js';
import { claim, writeResult } from './out.js';
import { printJson, printLines, sayLines } from './streams.js';
import { showProgress } from './show.js';

export function calibrateCommand(): Command {
  return new Command('calibrate')
    .addCommand(planCommand())
    .addCommand(playCommand())
    .addCommand(fitCommand())
    .addCommand(ringCommand())
    .addCommand(circleCommand())
    .addCommand(threeCommand());
}

const number =
  (flag: string, least: number, most: number, whole = false) =>
  (text: string): number =>
    numberFrom('calibrate', flag, text, [least, most], whole);
const list =
  (flag: string, names: readonly string[], optional = 0) =>
  (text: string): number[] =>
    listFrom('calibrate', flag, text, names, optional);

/** Flags of every command that makes touches. */
interface TouchFlags {
  readonly machine: string;
  readonly out: string;
  readonly ball?: number[];
  readonly block?: number[];
  readonly noise: number;
  readonly probe: 'switch' | 'hand';
  readonly speed: number;
  readonly nozzleTemperature: number;
  readonly tableTemperature: number;
}

const touchCommand = (name: string, folder: string): Command =>
  new Command(name)
    .requiredOption('--machine <file>', 'machine file as drawn or as measured before')
    .option(
      '--ball <x,y,z,diameter>',
      'a ball on the table: roughly where its centre is in the part frame, and its diameter, mm',
      list('ball', ['x', 'y', 'z', 'diameter']),
    )
    .option(
      '--block <x,y,length,width,height,turn>',
      'a block on the table: roughly where its middle is, its size, mm, and its turn, deg',
      list('block', ['x', 'y', 'length', 'width', 'height', 'turn'], 1),
    )
    .option(
      '--noise <mm>',
      'expected standard deviation of one touch',
      number('noise', 0.0001, 1),
      0.02,
    )
    .addOption(
      new Option('--probe <how>', 'stop on contact by G38.2, or wait for a hand to step down')
        .choices(['switch', 'hand'])
        .default('switch'),
    )
    .option('--speed <mm/s>', 'of the tip at a touch', number('speed', 0.01, 20), 1)
    .option(
      '--nozzle-temperature <degC>',
      'filled into the start lines',
      number('nozzle-temperature', 0, 500),
      0,
    )
    .option(
      '--table-temperature <degC>',
      'filled into the start lines',
      number('table-temperature', 0, 200),
      0,
    )
    .option('--out <folder>', 'new or empty folder', folder);

/**
 * Readings fit the one plan they were taken for, so an earlier plan is not replaced.
 * @throws Fault `out/not-empty`
 */
async function refuseEarlier(folder: string): Promise<void> {
  const held = existsSync(folder) ? (await readdir(folder)).length : 0;
  if (held === 0) return;
  throw new Fault(
    'out/not-empty',
    `${folder} holds ${held} files, and readings of an earlier plan may be among them: give a new or empty folder`,
    { file: folder },
  );
}

/** Plans, and writes program, form and plan. @returns what to say */
async function writePlan<P extends Parameters<typeof planText>[0]>(
  flags: TouchFlags,
  make: (machine: Machine, targets: readonly Target[], watch: Watch) => P,
): Promise<P> {
  await refuseEarlier(flags.out);
  await claim(flags.out);
  const machine = await machineAt(flags.machine);
  sayLines(findingLines(machine.doubts, 'all with slice'));
  const targets = targetsOf(flags);
  const show = showProgress(false);
  try {
    const plan = make(machine, targets.map(targetFrom), show.watch);
    const program = touchProgram(plan, flags, show.watch);
    const text = planText(plan, targets, flags.noise);
    await writeResult(
      flags.out,
      new Map([
        ['touches.ngc', program],
        ['readings.csv', formText(machine, text)],
        ['readings.html', formPage(machine, text)],
        ['plan.json', `${JSON.stringify(text, null, 2)}\n`],
      ]),
    );
    return plan;
  } finally {
    show.stop();
  }
}

function planCommand(): Command {
  return touchCommand('plan', 'out/calibration')
    .description(
      'a program of touches that determines the errors best, and a form for the readings',
    )
    .option('--touches <count>', 'how many touches', number('touches', 10, 1000, true), 80)
    .action(async (flags: TouchFlags & { readonly touches: number }) => {
      const plan = await writePlan(flags, (machine, targets, watch) =>
        planTouches(machine, targets, flags, watch),
      );
      printLines(planLines(plan, flags.noise, flags.out));
    });
}

function playCommand(): Command {
  return touchCommand('play', 'out/play')
    .description(
      'a program of touches that shows play and give of the joints: the same places after arriving from below and from above, without and with a weight',
    )
    .option(
      '--repeats <count>',
      'touches from each side, and without and with the weight, at each place',
      number('repeats', 2, 50, true),
      3,
    )
    .option(
      '--weight <kg,x,y,z>',
      'hung on the table by hand, and where, part frame, mm; left out: no give is asked',
      list('weight', ['kg', 'x', 'y', 'z']),
    )
    .action(
      async (flags: TouchFlags & { readonly repeats: number; readonly weight?: number[] }) => {
        const weight = flags.weight && weightFrom(flags.weight);
        const plan = await writePlan(flags, (machine, targets, watch) =>
          planPlay(machine, targets, { ...flags, weight }, watch),
        );
        printLines(playPlanLines(plan, flags.noise, flags.out));
      },
    );
}

function weightFrom(values: number[]): Weight {
  const [kg, x, y, z] = values as [number, number, number, number];
  return parse(planFile.shape.weight.unwrap(), { kg, at: [x, y, z] }, 'calibrate');
}

function targetsOf({ ball, block }: TouchFlags): TargetFile[] {
  const out: TargetFile[] = [{ kind: 'face' }];
  if (ball) {
    const [x, y, z, diameter] = ball as [number, number, number, number];
    out.push({ kind: 'ball', at: [x, y, z], diameter });
  }
  if (block) {
    const [x, y, length, width, height, turn = 0] = block as [
      number,
      number,
      number,
      number,
      number,
    ];
    out.push({ kind: 'block', at: [x, y], turn, size: [length, width, height] });
  }
  // The schema says what is refused: sizes that are not positive.
  return parse(planFile.shape.targets, out, 'calibrate');
}

interface FitFlags {
  readonly machine: string;
  readonly plan: string;
  readonly readings: string;
  readonly out: string;
  readonly json?: boolean;
}

function fitCommand(): Command {
  return new Command('fit')
    .description('a measured machine file from the readings of a plan')
    .requiredOption('--machine <file>', 'the machine file that the plan was made with')
    .requiredOption('--plan <file>', 'plan.json of the plan')
    .requiredOption('--readings <file>', 'readings.csv, filled in; - reads the input stream')
    .requiredOption('--out <file>', 'measured machine file; must not exist yet')
    .option('--json', 'print the figures as JSON and nothing else')
    .action(async (flags: FitFlags) => {
      const { content, machine } = await machineFileAt(flags.machine);
      const text = content as FileText;
      const plan = within(await readJson(flags.plan, 'the plan'), (value, file) =>
        parse(planFile, value, 'calibrate', file),
      );
      if (plan.machine !== machine.name) {
        throw new Fault(
          'calibrate/other-machine',
          `the plan was made for "${plan.machine}", the machine file says "${machine.name}"`,
          { file: flags.plan },
        );
      }
      const csv =
        flags.readings === '-'
          ? await textOf(createReadStream('', { fd: 0 }))
          : await readText(flags.readings, 'the readings');
      const { touches, missing } = readReadings(csv, machine, plan, flags.readings);
      const model = modelOf(machine, plan.targets.map(targetFrom));
      const asked = playTouches(machine, plan, touches);
      const { file, lines, record } = asked
        ? playAnswer(text, fitPlay(model, asked, plan.weight, plan.noise), missing, plan.noise)
        : fitAnswer(text, fitTouches(model, touches, plan), missing, plan.noise);
      // What is written must read.
      readMachine(file, flags.out);
      await writeNew(flags.out, `${JSON.stringify(file, null, 2)}\n`);
      if (flags.json) printJson(record);
      else printLines([...lines, `written to ${flags.out}`]);
    });
}

interface Answer {
  readonly file: FileText;
  readonly lines: string[];
  readonly record: object;
}

function fitAnswer(
  text: FileText,
  fit: DeviationFit,
  missing: readonly number[],
  noise: number,
): Answer {
  const tip = tipSpreadOver(fit.model, fit.deviations, fit.active, fit.covariance);
  return {
    file: measuredFile(text, fit.state, measuredBy(fit, tip)),
    lines: fitLines(fit, tip, missing, noise),
    record: fitRecord(fit, tip, missing),
  };
}

const playAnswer = (
  text: FileText,
  fit: PlayFit,
  missing: readonly number[],
  noise: number,
): Answer => ({
  file: measuredPlay(text, fit),
  lines: playFitLines(fit, missing, noise),
  record: playFitRecord(fit, missing),
});

function ringCommand(): Command {
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

function circleCommand(): Command {
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

function threeCommand(): Command {
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
