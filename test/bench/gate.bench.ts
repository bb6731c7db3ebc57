/**
 * What it costs to judge every layer by itself: the whole check of the two programs of `npm run
 * planted` against the same check less the time of those judges and of the marks under first beads.
 */
import { readOptions } from '../../lib/program/options.js';
import { readProgram } from '../../lib/program/read-program.js';
import { judgeDry } from '../../lib/verify/unfed-moves.js';
import { FirstBeads } from '../../lib/verify/first-bead.js';
import { judgeLayers } from '../../lib/verify/judge-layers.js';
import { judgeStarts } from '../../lib/verify/judge-starts.js';
import { printOf } from '../../lib/verify/print.js';
import { SELF_SUPPORTING } from '../../lib/verify/bead-support.js';
import { checkRules } from '../../lib/verify/rules.js';
import { LONGEST_BRIDGE } from '../../lib/verify/hanging-stretches.js';
import { Tally } from '../../lib/verify/tally.js';
import { traceOf } from '../../lib/verify/trace.js';
import { verify } from '../../lib/verify/verify.js';
import { type Printed, largePart, smallPart } from '../planted/parts.js';
import { sampleMachine } from '../support/jobs.js';
import { type Row, timed } from './bench.js';

const RUNS = 5;

export async function run(): Promise<Row[]> {
  return [await smallPart(), await largePart()].map(rowOf);
}

function rowOf({ name, program }: Printed): Row {
  const machine = sampleMachine('table-table-ac');
  const whole = timed(() => verify(program, machine, {}), RUNS);
  const read = readProgram(program, readOptions(machine));
  const trace = traceOf(read, machine);
  const print = printOf(trace, machine, undefined, LONGEST_BRIDGE, SELF_SUPPORTING)!;
  const bounds = checkRules.parse({});
  const gate = timed(() => {
    const tally = new Tally();
    const marks = new FirstBeads(trace, print.heights, machine, print.grids);
    for (let b = 0; b < trace.kind.length; b++) marks.before(b);
    marks.take();
    const looks = judgeLayers(trace, print, machine.nozzle.diameter, bounds, tally);
    judgeStarts(trace, print, looks, bounds, tally);
    judgeDry(trace, read.seconds, print, bounds, tally);
  }, RUNS);
  return {
    name: `check of the ${name} part, without and with its layers judged`,
    a: whole - gate,
    b: whole,
    ratio: whole / (whole - gate),
    want: { most: 1.05 },
  };
}
