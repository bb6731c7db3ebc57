/** `tiltwright inspect <part>`: what a mesh is, what was healed, and what is wrong with it. */
import { Command } from 'commander';
import type { Inspection, ReadPart } from '../lib/index.js';
import { Fault } from '../lib/base/fault.js';
import { readPart } from '../lib/formats/read-part.js';
import { loadSolidKernel } from '../lib/kernel/solid.js';
import { inspect } from '../lib/mesh/repair/inspect.js';
import { UNITS, type Unit } from '../lib/mesh/units.js';
import { readBytes } from './files.js';
import { findingLines } from './finding-lines.js';
import { plainNumber } from './numbers.js';
import { printJson, printLines } from './streams.js';

interface InspectFlags {
  readonly json?: boolean;
  readonly unit?: string;
  readonly strict?: boolean;
  readonly deviation: string;
  readonly thin: string;
}

export function inspectCommand(): Command {
  return new Command('inspect')
    .argument('<part>', 'STL, OBJ, PLY, 3MF, GLB or STEP')
    .option('--unit <name>', `unit of an STL, OBJ or PLY file (${Object.keys(UNITS).join(', ')})`)
    .option('--strict', 'refuse a part that would need healing')
    .option(
      '--deviation <mm>',
      'greatest distance of the triangles from the surfaces of a STEP file',
      '0.01',
    )
    .option('--thin <mm>', 'walls thinner than this count as thin', '0.8')
    .option('--json', 'print the figures as JSON')
    .action(run);
}

async function run(path: string, flags: InspectFlags): Promise<void> {
  const thinBelow = plainNumber(flags.thin);
  if (!(thinBelow > 0))
    throw new Fault('inspect/bad-value', `thin: more than 0 mm, got ${flags.thin}`);
  const deviation = plainNumber(flags.deviation);
  if (!(deviation >= 0.001 && deviation <= 1))
    throw new Fault('inspect/bad-value', `deviation: 0.001 to 1 mm, got ${flags.deviation}`);
  const [bytes, kernel] = await Promise.all([readBytes(path, 'the part'), loadSolidKernel()]);
  const unit = flags.unit ? { unit: unitOf(flags.unit) } : {};
  const options = { heal: !flags.strict, deviation, ...unit };
  const read = readPart(bytes, path, kernel, options);
  const result = inspect(read.mesh, kernel, { thinBelow });
  if (flags.json) {
    printJson({ format: read.format, healed: read.healed, ...result });
  } else printLines(linesOf(read, result));
}

function unitOf(name: string): Unit {
  if (name in UNITS) return name as Unit;
  throw new Fault(
    'inspect/bad-value',
    `unit: one of ${Object.keys(UNITS).join(', ')}, got ${name}`,
  );
}

function linesOf(read: ReadPart, i: Inspection): string[] {
  const mm = (x: number): string => x.toFixed(2);
  return [
    `format    ${read.format}`,
    `triangles ${i.triangles}, vertices ${i.vertices}`,
    `size      ${i.size.map(mm).join(' x ')} mm`,
    `volume    ${mm(i.volume / 1000)} cm3`,
    `area      ${mm(i.area / 100)} cm2`,
    `shells    ${i.shells}${i.inwardShells ? `, ${i.inwardShells} of them hollows` : ''}${i.genus === undefined ? '' : `; handles ${i.genus}`}`,
    `closed    ${i.closed ? 'yes' : `no: ${i.edges.open} open edges`}`,
    ...findingLines([...read.healed, ...i.findings], 'all of them with --json'),
  ];
}
