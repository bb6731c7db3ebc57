/**
 * Filament, block by block: beads laid before the nozzle is told to be hot, beads that begin before
 * what was drawn back is primed again, and single blocks whose section is out of line with the beads
 * before and after.
 */
import type { Machine } from '../machine/machine.js';
import type { Program } from '../program/read.js';
import type { Tally } from './tally.js';
import { type Trace, TraceKind } from './trace.js';
import { placeOf } from './walk.js';

/** No filament that is printed softens below this, deg C (common practice, no source). */
const COLD = 100;
/** A section counts as out of line from this factor on, either way. */
const STEP = 1.6;
/** Neighbours are alike within this factor. */
const ALIKE = 1.1;

export function tellFeed(trace: Trace, program: Program, machine: Machine, tally: Tally): void {
  tellCold(trace, program, machine, tally);
  tellUnprimed(trace, machine, tally);
  tellSteps(trace, machine, tally);
}

/** Lines of the machine file that set the nozzle's temperature, with the value open. */
function heatPatterns({ dialect }: Machine): RegExp[] {
  const lines = [...dialect.start, ...dialect.end].filter((l) => l.includes('{nozzleTemperature}'));
  if (dialect.nozzleTemperature) lines.push(dialect.nozzleTemperature);
  return lines.map((line) => {
    const parts = line.trim().split(/\{(?:nozzleTemperature|value)\}/);
    const text = parts.map((p) => p.split(/\{[^{}]*\}/).map(escaped).join('.+?'));
    return new RegExp(`^\\s*${text.join('(-?[0-9.]+)')}\\s*$`);
  });
}

const escaped = (text: string): string => text.replace(/[.*+?^${}()|[\]\\]/g, '\\$&');

function tellCold(trace: Trace, program: Program, machine: Machine, tally: Tally): void {
  const patterns = heatPatterns(machine);
  // A machine whose nozzle is not heated by the program.
  if (patterns.length === 0) return;
  let next = 0;
  let heat: number | undefined;
  let told: number | undefined;
  for (let b = trace.runStart[0] ?? trace.kind.length; b < trace.kind.length; b++) {
    if (trace.kind[b] !== TraceKind.deposit) continue;
    for (; next < program.own.length && program.own[next]!.line < trace.line[b]!; next++) {
      const { text } = program.own[next]!;
      const value = patterns.map((p) => p.exec(text)?.[1]).find((v) => v !== undefined);
      if (value !== undefined) heat = Number(value);
    }
    if ((heat ?? 0) >= COLD || told === next) continue;
    told = next;
    const said =
      heat === undefined
        ? 'material is laid and no line before sets the temperature of the nozzle'
        : `material is laid with the nozzle set to ${heat} deg C, the limit is ${COLD} deg C`;
    const at = placeOf(trace, b);
    tally.add('verify/cold', 'error', COLD - (heat ?? 0), () => ({ message: said, at }));
  }
}

function tellUnprimed(trace: Trace, machine: Machine, tally: Tally): void {
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

/** A block whose section differs from the beads before and after, which agree with each other. */
function tellSteps(trace: Trace, machine: Machine, tally: Tally): void {
  const { kind, volume, length, run } = trace;
  const area = (Math.PI / 4) * machine.filamentDiameter ** 2;
  const decimal = 10 ** -machine.dialect.decimals.filament * area;
  const section = (b: number): number => volume[b]! / length[b]!;
  const joined = (b: number, other: number): boolean =>
    kind[other] === TraceKind.deposit && run[other] === run[b];
  for (let b = 1; b + 1 < kind.length; b++) {
    if (kind[b] !== TraceKind.deposit || length[b]! < machine.nozzle.diameter) continue;
    if (!joined(b, b - 1) || !joined(b, b + 1)) continue;
    const [before, here, after] = [section(b - 1), section(b), section(b + 1)];
    const room =
      1 + decimal / volume[b - 1]! + decimal / volume[b]! + decimal / volume[b + 1]!;
    if (factor(before, after) > ALIKE * room) continue;
    const by = Math.min(factor(here, before), factor(here, after));
    if (!(by > STEP * room)) continue;
    tally.add('verify/flow-step', 'warning', by, () => ({
      message: `the bead's section is ${here.toFixed(4)} mm2 here, ${before.toFixed(4)} mm2 before and ${after.toFixed(4)} mm2 after`,
      at: placeOf(trace, b),
    }));
  }
}

const factor = (a: number, b: number): number => Math.max(a, b) / Math.min(a, b);
