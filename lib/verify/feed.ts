/**
 * Filament, block by block: beads laid before the nozzle is set to a printing temperature, beads that begin
 * before what was drawn back is primed again, and single blocks whose section is out of line with the beads
 * before and after.
 */
import type { Machine } from '../machine/machine.js';
import type { Program } from '../program/read-program.js';
import type { Tally } from './tally.js';
import { type Trace, TraceKind } from './trace.js';
import { placeOf } from './walk.js';

/** No filament that is printed softens below this, deg C (common practice, no source). */
const COLD = 100;
/** A section counts as out of line from this factor on, either way: beads of thin walls vary by less. */
const SECTION_STEP = 1.8;
/** Heights along the head within this are one level, mm. */
const FEED_LEVEL = 0.005;
/** Neighbours are alike within this factor. */
const LIKE_SECTION = 1.1;

export function reportFeed(trace: Trace, program: Program, machine: Machine, tally: Tally): void {
  reportCold(trace, program, machine, tally);
  reportUnprimed(trace, machine, tally);
  reportSteps(trace, machine, tally);
}

/** Lines of the machine file that set the nozzle's temperature, with the value open. */
function heatPatterns({ dialect }: Machine): RegExp[] {
  const lines = [...dialect.start, ...dialect.end].filter((l) => l.includes('{nozzleTemperature}'));
  if (dialect.nozzleTemperature) lines.push(dialect.nozzleTemperature);
  return lines.map((line) => {
    const parts = line.trim().split(/\{(?:nozzleTemperature|value)\}/);
    const text = parts.map((p) =>
      p
        .split(/\{[^{}]*\}/)
        .map(escaped)
        .join('.+?'),
    );
    return new RegExp(`^\\s*${text.join('(-?[0-9.]+)')}\\s*$`);
  });
}

const escaped = (text: string): string => text.replace(/[.*+?^${}()|[\]\\]/g, '\\$&');

function reportCold(trace: Trace, program: Program, machine: Machine, tally: Tally): void {
  const patterns = heatPatterns(machine);
  // A machine whose nozzle is not heated by the program.
  if (patterns.length === 0) return;
  let next = 0;
  let heat: number | undefined;
  let reported: number | undefined;
  for (let b = trace.runStart[0] ?? trace.kind.length; b < trace.kind.length; b++) {
    if (trace.kind[b] !== TraceKind.deposit) continue;
    for (; next < program.own.length && program.own[next]!.line < trace.line[b]!; next++) {
      const { text } = program.own[next]!;
      const value = patterns.map((p) => p.exec(text)?.[1]).find((v) => v !== undefined);
      if (value !== undefined) heat = Number(value);
    }
    if ((heat ?? 0) >= COLD || reported === next) continue;
    reported = next;
    const said =
      heat === undefined
        ? 'material is laid and no line before sets the temperature of the nozzle'
        : `material is laid with the nozzle set to ${heat} deg C, the limit is ${COLD} deg C`;
    const at = placeOf(trace, b);
    tally.add('verify/cold', 'error', COLD - (heat ?? 0), () => ({ message: said, at }));
  }
}

function reportUnprimed(trace: Trace, machine: Machine, tally: Tally): void {
  const area = (Math.PI / 4) * machine.filamentDiameter ** 2;
  const room = 2 * 10 ** -machine.dialect.decimals.filament * area;
  for (let b = 0; b < trace.kind.length; b++) {
    if (trace.kind[b] !== TraceKind.deposit) continue;
    const missing = trace.filament[b]! * area - trace.volume[b]!;
    // What was drawn back and never primed must be a noticeable part of the block.
    if (missing <= room || missing < 0.01 * trace.filament[b]! * area) continue;
    tally.add('verify/unprimed', 'error', missing, () => ({
      message: `the bead begins with ${(missing / area).toFixed(3)} mm of filament still drawn back`,
      at: placeOf(trace, b),
    }));
  }
}

/**
 * A block whose section differs from those of the beads laid before and after it at the same level,
 * which agree with each other; the first and the last of a level from the next two. Where a bead comes
 * back to where it began, its last block stands before its first.
 */
function reportSteps(trace: Trace, machine: Machine, tally: Tally): void {
  const { kind, volume, length } = trace;
  const area = (Math.PI / 4) * machine.filamentDiameter ** 2;
  const decimal = 10 ** -machine.dialect.decimals.filament * area;
  const section = (b: number): number => volume[b]! / length[b]!;
  const judge = (b: number, one: number, two: number): void => {
    const room = 1 + decimal * (1 / volume[one]! + 1 / volume[b]! + 1 / volume[two]!);
    if (factor(section(one), section(two)) > LIKE_SECTION * room) return;
    const by = Math.min(factor(section(b), section(one)), factor(section(b), section(two)));
    if (!(by > SECTION_STEP * room)) return;
    tally.add(
      'verify/flow-step',
      'warning',
      by,
      () => ({
        message: `the bead's section is ${section(b).toFixed(4)} mm2 here, ${section(one).toFixed(4)} and ${section(two).toFixed(4)} mm2 in the beads next to it`,
        at: placeOf(trace, b),
      }),
      { run: trace.run[b]!, amount: length[b]!, unit: 'mm' },
    );
  };
  let level: number[] = [];
  /** Where in the level the bead in work began. */
  let begin = 0;
  const around = new Map<number, readonly [number, number]>();
  const closeBead = (): void => {
    const last = level.length - 1;
    if (last >= begin + 2 && meets(trace, level[begin]!, level[last]!)) {
      around.set(begin, [last, begin + 1]);
      around.set(last, [last - 1, begin]);
    }
    begin = level.length;
  };
  const closeLevel = (): void => {
    const last = level.length - 1;
    level.forEach((b, i) => {
      if (last < 2) return;
      const ends = i === 0 ? [1, 2] : i === last ? [last - 1, last - 2] : [i - 1, i + 1];
      const [one, two] = around.get(i) ?? ends;
      judge(b, level[one!]!, level[two!]!);
    });
    level = [];
    begin = 0;
    around.clear();
  };
  for (let b = 0; b < kind.length; b++) {
    if (kind[b] !== TraceKind.deposit) closeBead();
    else if (length[b]! >= machine.nozzle.diameter) {
      if (level.length && !isLevel(trace, level[0]!, b)) {
        closeBead();
        closeLevel();
      }
      level.push(b);
    }
  }
  closeBead();
  closeLevel();
}

/** Whether block b ends where block a begins. */
function meets({ tip }: Trace, a: number, b: number): boolean {
  const [i, k] = [3 * a - 3, 3 * b];
  return (
    Math.hypot(tip[i]! - tip[k]!, tip[i + 1]! - tip[k + 1]!, tip[i + 2]! - tip[k + 2]!) < FEED_LEVEL
  );
}

/** Whether two blocks of one run lie at one height along the head. */
function isLevel({ tip, direction, run }: Trace, a: number, b: number): boolean {
  if (run[a] !== run[b]) return false;
  const [i, k] = [3 * a, 3 * b];
  let rise = 0;
  for (let c = 0; c < 3; c++) rise += (tip[k + c]! - tip[i + c]!) * direction[i + c]!;
  return Math.abs(rise) < FEED_LEVEL;
}

const factor = (a: number, b: number): number => Math.max(a, b) / Math.min(a, b);
