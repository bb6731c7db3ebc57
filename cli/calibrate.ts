/**
 * `tiltwright calibrate`: `plan` and `play` write a program of touches and a form for the readings, `fit`
 * turns them into a measured machine file; `ring`, `circle` and `three` give answers from a few readings
 * taken by hand.
 */
import { createReadStream } from 'node:fs';
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
import {
  formText,
  planFile,
  planText,
  playTouches,
  readReadings,
} from '../lib/calibrate/touch-files.js';
import { formPage } from '../lib/calibrate/form.js';
import {
  measuredBy,
  measuredFile,
  measuredPlay,
  type FileText,
} from '../lib/calibrate/measured.js';
import { modelOf } from '../lib/calibrate/deviation-model.js';
import { checkReadings } from '../lib/calibrate/readings-check.js';
import { effectsNamed } from '../lib/calibrate/effects.js';
import { residualPicture } from '../lib/report/residual-picture.js';
import { fitPlay, type Weight } from '../lib/calibrate/play-fit.js';
import { tipSpreadOver } from '../lib/calibrate/spread.js';
import { type TargetFile, targetFrom } from '../lib/calibrate/targets.js';
import { fitLines, fitRecord, planLines } from './calibrate-lines.js';
import { playFitLines, playFitRecord, playPlanLines } from './calibrate-play-lines.js';
import { readJson, readText, writeNew } from './files.js';
import { findingLines } from './finding-lines.js';
import { machineAt, machineFileAt } from './machine-file.js';
import { circleCommand, list, number, ringCommand, threeCommand } from './calibrate-hand.js';
import { claim, refuseEarlier, writeResult } from './out.js';
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

const names = (text: string): string[] => text.split(',').map((name) => name.trim());

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

/** Plans, and writes program, form and plan. @returns what to say */
async function writePlan<P extends Parameters<typeof planText>[0]>(
  flags: TouchFlags,
  make: (machine: Machine, targets: readonly Target[], watch: Watch) => P,
): Promise<P> {
  await refuseEarlier(flags.out, 'readings of an earlier plan');
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

interface PlanFlags {
  readonly touches?: number;
  readonly coarse?: boolean;
  readonly also?: string[];
}

/** Touches of a plan where the number is not given. */
const USUAL_TOUCHES = { coarse: 40, fine: 80 } as const;

function planCommand(): Command {
  return touchCommand('plan', 'out/calibration')
    .description(
      'a program of touches that determines the errors best, and a form for the readings',
    )
    .option(
      '--touches <count>',
      `how many touches; left out: ${USUAL_TOUCHES.fine}, or ${USUAL_TOUCHES.coarse} with --coarse`,
      number('touches', 10, 1000, true),
    )
    .option(
      '--coarse',
      'the first touches of a machine as drawn: few, in the middle of the targets, with long search ways',
    )
    .option('--also <names>', 'effects to tell beside, as a fit names them, by commas', names)
    .action(async (flags: TouchFlags & PlanFlags) => {
      const touches = flags.touches ?? USUAL_TOUCHES[flags.coarse ? 'coarse' : 'fine'];
      const plan = await writePlan(flags, (machine, targets, watch) =>
        planTouches(machine, targets, { ...flags, touches }, watch),
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
  readonly also?: string[];
  readonly picture?: string;
  readonly json?: boolean;
}

function fitCommand(): Command {
  return new Command('fit')
    .description('a measured machine file from the readings of a plan')
    .requiredOption('--machine <file>', 'the machine file that the plan was made with')
    .requiredOption('--plan <file>', 'plan.json of the plan')
    .requiredOption('--readings <file>', 'readings.csv, filled in; - reads the input stream')
    .requiredOption('--out <file>', 'measured machine file; must not exist yet')
    .option('--also <names>', 'effects to fit too, as an earlier fit names them, by commas', names)
    .option(
      '--picture <file>',
      'SVG of the residuals against tilt, turn, time, height, place and side; must not exist yet',
    )
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
      checkReadings(machine, plan, touches, flags.readings);
      const targets = plan.targets.map(targetFrom);
      const also = effectsNamed(machine, targets, [...plan.also, ...(flags.also ?? [])]);
      const model = modelOf(machine, targets, also);
      const asked = playTouches(machine, plan, touches);
      if (asked && (also.length > 0 || flags.picture !== undefined)) {
        throw new Fault(
          'calibrate/play-only',
          '--also and --picture are for a plan of the machine; this plan is for play and stiffness',
          { file: flags.plan },
        );
      }
      const { file, lines, record, picture } = asked
        ? playAnswer(text, fitPlay(model, asked, plan.weight, plan.noise), missing, plan.noise)
        : fitAnswer(text, fitTouches(model, touches, plan), missing, plan.noise);
      // What is written must read.
      readMachine(file, flags.out);
      await writeNew(flags.out, `${JSON.stringify(file, null, 2)}\n`);
      if (flags.picture !== undefined && picture) await writeNew(flags.picture, picture());
      if (flags.json) printJson(record);
      else printLines([...lines, `written to ${flags.out}`]);
    });
}

interface Answer {
  readonly file: FileText;
  readonly lines: string[];
  readonly record: object;
  /** Of the residuals. */
  readonly picture?: () => string;
}

function fitAnswer(
  text: FileText,
  fit: DeviationFit,
  missing: readonly number[],
  noise: number,
): Answer {
  const tip = tipSpreadOver(fit.model, fit.deviations, fit.spread, fit.scattered, fit.biases);
  return {
    file: measuredFile(text, fit.state, measuredBy(fit, tip)),
    lines: fitLines(fit, tip, missing, noise),
    record: fitRecord(fit, tip, missing),
    picture: () => residualPicture(fit, noise),
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
