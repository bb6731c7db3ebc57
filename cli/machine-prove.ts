/**
 * `tiltwright machine prove` writes two programs for the real machine and a form for what is seen; `judge` tells
 * from the form which value of the machine file is wrong.
 */
import { Command } from 'commander';
import { within } from '../lib/base/json.js';
import { parse } from '../lib/base/schema.js';
import { proofForm } from '../lib/commission/proof-form.js';
import {
  proofFile,
  proofFrom,
  proofText,
  readSeen,
  seenText,
} from '../lib/commission/proof-files.js';
import { WRONG_MM, planProof } from '../lib/commission/proof-plan.js';
import { placeText, posesProgram, stepsProgram } from '../lib/commission/proof-program.js';
import { judgeProof } from '../lib/commission/proof-verdict.js';
import type { MachineFile } from '../lib/machine/machine.js';
import { readJson, readText, together } from './files.js';
import { machineAt, machineFileAt } from './machine-file.js';
import { claim, refuseEarlier, writeResult } from './out.js';
import { printJson, printLines, sayLines } from './streams.js';
import { findingLines, severityLines } from './finding-lines.js';
import { showProgress } from './show.js';

export function proveCommand(): Command {
  return new Command('prove')
    .description(
      'two cold, slow programs for the real machine, which move each joint alone and then hold the tip at one place while the joints turn, and a form for what is seen',
    )
    .argument('<file>', 'machine file')
    .option('--out <folder>', 'new or empty folder', 'out/proof')
    .action(async (path: string, { out }: { readonly out: string }) => {
      await refuseEarlier(out, 'what was seen of an earlier proof');
      await claim(out);
      const machine = await machineAt(path);
      sayLines(findingLines(machine.doubts, 'all with machine check'));
      const show = showProgress(false);
      try {
        const plan = planProof(machine, show.watch);
        await writeResult(
          out,
          new Map([
            ['steps.ngc', stepsProgram(plan)],
            ...(plan.refused ? [] : ([['poses.ngc', posesProgram(plan)]] as const)),
            ['seen.html', proofForm(plan)],
            ['seen.csv', seenText(plan)],
            ['plan.json', `${JSON.stringify(proofText(plan), null, 2)}\n`],
          ]),
        );
        printLines([
          ...plan.steps.map(
            ({ number, joint, expected }) =>
              `step ${number}: ${machine.joints[joint]!.letter}: ${expected.words}`,
          ),
          plan.refused
            ? `no poses.ngc: ${plan.refused}`
            : `${plan.poses.length} poses: the tip at ${placeText(plan.place)} over the table, clear with any axis up to ${WRONG_MM} mm off`,
          'before you run steps.ngc: nozzle and table cold, no filament, hands out, a hand on the emergency stop; poses.ngc only if every step was right',
          `written to ${out}: steps.ngc, ${plan.refused ? '' : 'poses.ngc, '}seen.html (enter what was seen), seen.csv (the same as a table), plan.json`,
        ]);
      } finally {
        show.stop();
      }
    });
}

interface JudgeFlags {
  readonly plan: string;
  readonly seen: string;
  readonly json?: boolean;
}

export function judgeCommand(): Command {
  return new Command('judge')
    .description('which value of the machine file is wrong, by what was seen of a proof')
    .argument('<file>', 'the machine file that the proof was planned with')
    .requiredOption('--plan <file>', 'plan.json of the proof')
    .requiredOption('--seen <file>', 'seen.csv, filled in')
    .option('--json', 'print the findings on the output stream and nothing else')
    .action(async (path: string, flags: JudgeFlags) => {
      const [{ content, machine }, text, csv] = await together([
        machineFileAt(path),
        readJson(flags.plan, 'the plan'),
        readText(flags.seen, 'what was seen'),
      ]);
      const plan = within(text, (value, file) =>
        proofFrom(machine, parse(proofFile, value, 'prove', file)),
      );
      const seen = readSeen(csv, plan, flags.seen);
      const { positive } = content as MachineFile;
      const verdict = judgeProof(plan, positive, seen);
      if (flags.json) printJson(verdict);
      else printLines(severityLines(verdict.findings));
      if (verdict.findings.some((f) => f.severity === 'error')) process.exitCode = 3;
    });
}
