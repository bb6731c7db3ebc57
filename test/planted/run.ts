/** Plants a fault, checks the program with the part and without it, and says where it was found. */
import type { Finding } from '../../lib/base/fault.js';
import type { Vec3 } from '../../lib/base/vector.js';
import { readMachine } from '../../lib/machine/read-files.js';
import { verify } from '../../lib/verify/verify.js';
import { sampleJson } from '../support/jobs.js';
import type { Fault, Planted } from './fault.js';
import type { Printed } from './parts.js';
import { Text } from './text.js';

/**
 * What an edit of the text brings along and no finding of the fault itself: steps at a feed of another
 * move, filament that is drawn back or not where lines were cut out.
 */
const BESIDE: readonly string[] = ['verify/joint-speed', 'verify/unprimed'];

export interface Row {
  readonly fault: string;
  readonly part: string;
  readonly region: number;
  readonly layer: number;
  readonly known: boolean;
  readonly planted: readonly [number, number];
  /** The first error at the place; else any error, else nothing. */
  readonly code: string;
  readonly line: number;
  readonly said: string;
  readonly outcome: 'pass' | 'elsewhere' | 'missed' | 'needs part' | 'harmless';
  readonly why?: string;
}

/** Errors of a program, and warnings that mean a fault: with the part as it is planned, or bare: without part, material or comments. */
export function errorsOf(
  { program, facts, planned }: Printed,
  known: boolean,
  { lines, centre }: Pick<Planted, 'lines' | 'centre'> = { lines: program.split('\n') },
  shownBy: readonly string[] = [],
): Finding[] {
  const said = known ? lines : lines.map((l) => (l.startsWith('(') ? '' : l));
  const { check } = verify(said.join('\n'), machineOff(centre), known ? facts : {});
  return check.findings.filter(({ severity, code }) =>
    severity === 'error'
      ? !planned.includes(code)
      : severity === 'warning' && shownBy.includes(code),
  );
}

function machineOff(by = 0): ReturnType<typeof readMachine> {
  const json = sampleJson('machines/table-table-ac.json') as {
    table: { joints: { point: Vec3 }[] };
  };
  const [tilting] = json.table.joints;
  const [x, y, z] = tilting!.point;
  tilting!.point = [x, y + by, z];
  return readMachine(json);
}

/** A fault in one region of a part, with and without the part; nothing where it has no place. */
export function runFault(fault: Fault, printed: Printed, region: number): Row[] {
  const planted = fault.plant(new Text(printed.program), region);
  if (!planted) return [];
  return [false, true].map((known) => {
    const errors = errorsOf(printed, known, planted, fault.shownBy).filter(({ code }) =>
      fault.shownBy ? fault.shownBy.includes(code) : !BESIDE.includes(code),
    );
    const [from, to] = planted.at;
    const line = (f: Finding): number => f.at?.line ?? 0;
    const here = errors.find((f) => line(f) >= from && line(f) <= to);
    const any = here ?? errors[0];
    const which = region === printed.regions[0] ? 'first' : 'later';
    const needs =
      !known &&
      fault.needsPart !== undefined &&
      (fault.needsPartIn === undefined || fault.needsPartIn === which);
    return {
      fault: fault.name,
      part: printed.name,
      region,
      layer: planted.layer,
      known,
      planted: planted.at,
      code: any?.code ?? '',
      line: any ? line(any) : 0,
      said: any?.message ?? '',
      outcome: here
        ? 'pass'
        : fault.harmless
          ? 'harmless'
          : needs
            ? 'needs part'
            : any
              ? 'elsewhere'
              : 'missed',
      ...(needs && !here ? { why: fault.needsPart } : {}),
    };
  });
}

/** Regions of a part in which a fault can be planted. */
export function regionsFor(fault: Fault, { regions, program, curved }: Printed): number[] {
  if ((fault.regions === 'curved') !== curved) return [];
  if (fault.regions !== 'tilted') return [...regions];
  return Array.from({ length: new Text(program).regions - 1 }, (_, i) => i + 2);
}
