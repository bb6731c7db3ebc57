/**
 * The writer: a motion as the text of an RS-274 program for a machine and a material. What always holds:
 * G21 and G90 are stated, before and after the user's start text; every block is a G1, a dwell or a line of
 * the machine file; the program ends with M2 unless the end text ends it.
 *
 * Links and transfers are G1 at a stated feed and never G0: a rapid leaves it to the controller whether the
 * axes arrive together and when, so neither the checked path between two regions nor the time of the job
 * would hold.
 */
import { Fault, type Finding } from '../base/fault.js';
import { DEG } from '../base/vector.js';
import type { Machine } from '../machine/machine.js';
import type { Material } from '../machine/material.js';
import { type Motion, MoveKind, filamentTaken } from '../motion/motion.js';
import { type Heading, headerLines, layerMark } from './header.js';
import { Lines } from './lines.js';
import { Speller } from './speller.js';
import { comment, endsProgram, fill } from './text.js';

export type { Heading } from './header.js';

/** Speed of the first block, from wherever the start text has left the machine, mm/s and deg/s. */
const START_SPEED = 10;

export interface ProgramText {
  /** The text in pieces of whole lines; their concatenation is the program. */
  readonly chunks: readonly string[];
  readonly lines: number;
  /** For each block of the motion the line (from one) at which it was written, or that went before. */
  readonly lineOf: Uint32Array;
  /** Filament metered in all, as the program says it, mm. */
  readonly filamentMm: number;
  /** What the program could not say: `program/no-fan`. */
  readonly findings: readonly Finding[];
}

/**
 * @throws Fault `program/letter-clash` if the filament's letter is that of a joint,
 *   `program/unknown-place`, `program/long-line`, `program/line-break`, `program/ends-early` for the
 *   machine file's texts, `program/no-temperature-line` if the first layer wants a temperature of its
 *   own and the machine file has no line that sets it
 */
export function writeProgram(
  motion: Motion,
  machine: Machine,
  material: Material,
  heading: Heading,
): ProgramText {
  checkMachine(machine, motion);
  const texts = new Texts(machine, material);
  const out = new Lines();
  out.addAll(headerLines(heading, machine, material, motion, filamentTaken(motion)));
  out.add('G21 G90 G94');
  out.addAll(texts.start);
  out.add('G21 G90 G94');
  const { filament } = machine.dialect;
  // The counter that absolute words refer to; start text may have fed some filament.
  if (filament.mode === 'absolute') out.add(`G92 ${filament.letter}0`);
  const speller = new Speller(machine, motion.from, out);
  speller.start(startFeed(machine));
  const lineOf = writeBlocks(motion, speller, out, heading, texts);
  out.addAll(texts.end);
  return {
    chunks: out.take(),
    lines: out.count,
    lineOf,
    filamentMm: speller.filament,
    findings: texts.findings,
  };
}

function writeBlocks(
  motion: Motion,
  speller: Speller,
  out: Lines,
  heading: Heading,
  texts: Texts,
): Uint32Array {
  const { jointCount, kind, joints, filament, seconds, region, layer } = motion;
  const layers = layerCounts(motion);
  const lineOf = new Uint32Array(kind.length);
  const begun = new Set<number>();
  let first = -1;
  let changed = false;
  let atRegion = -1;
  let atLayer = -1;
  for (let b = 0; b < kind.length; b++) {
    const marks = kind[b] !== MoveKind.transfer;
    if (marks && (region[b] !== atRegion || layer[b] !== atLayer)) {
      atRegion = region[b]!;
      atLayer = layer[b]!;
      const begins = !begun.has(atRegion);
      begun.add(atRegion);
      const many = layers.length;
      out.addAll(layerMark(heading, atRegion, many, atLayer, layers[atRegion]!, begins));
      // Stated once a layer, so that a reader who starts here knows the feed mode and all joints.
      speller.restate();
    }
    if (kind[b] === MoveKind.deposit) {
      if (first < 0) first = b;
      else if (!changed && (region[b] !== region[first] || layer[b] !== layer[first])) {
        changed = true;
        out.addAll(texts.afterFirstLayer);
        speller.restate();
      }
    }
    const filamentOnly = kind[b] === MoveKind.filament;
    speller.move(joints, b * jointCount, filament[b]!, seconds[b]!, filamentOnly);
    lineOf[b] = out.count;
  }
  return lineOf;
}

/** Layers a region that the motion visits. */
function layerCounts(motion: Motion): number[] {
  const counts: number[] = [];
  for (let b = 0; b < motion.kind.length; b++) {
    if (motion.kind[b] === MoveKind.transfer) continue;
    const r = motion.region[b]!;
    while (counts.length <= r) counts.push(0);
    counts[r] = Math.max(counts[r]!, motion.layer[b]! + 1);
  }
  return counts;
}

function startFeed(machine: Machine): number {
  const speeds = machine.joints.map((j) => (j.kind === 'linear' ? j.speed : j.speed / DEG));
  return Math.min(START_SPEED, ...speeds) * 60;
}

function checkMachine(machine: Machine, motion: Motion): void {
  const { joints, dialect } = machine;
  if (motion.jointCount !== joints.length) {
    throw new Error(`motion has ${motion.jointCount} joints, the machine ${joints.length}`);
  }
  const letters = [...joints.map((j) => j.letter), dialect.filament.letter];
  const twice = letters.find((l, i) => letters.indexOf(l) !== i);
  if (twice) {
    throw new Fault(
      'program/letter-clash',
      `the letter ${twice} stands for two things: joints ${joints.map((j) => j.letter).join(' ')}, filament ${dialect.filament.letter}`,
      { key: 'dialect.filament.letter' },
    );
  }
}

/** The machine file's lines with the material's values filled in. */
class Texts {
  readonly start: string[];
  readonly end: string[];
  readonly afterFirstLayer: string[];
  readonly findings: Finding[] = [];

  constructor(machine: Machine, material: Material) {
    const { dialect } = machine;
    const { first } = material;
    const name = { material: material.name };
    const late = {
      nozzleTemperature: material.nozzleTemperature,
      tableTemperature: material.tableTemperature,
    };
    const early = {
      nozzleTemperature: first.nozzleTemperature ?? late.nozzleTemperature,
      tableTemperature: first.tableTemperature ?? late.tableTemperature,
    };
    const lines = (key: 'start' | 'end', values: Record<string, string | number>): string[] =>
      dialect[key].map((line, i) => fill(line, values, `dialect.${key}.${i}`));
    const off = dialect.fan ? [fill(dialect.fan.off, {}, 'dialect.fan.off')] : [];
    this.start = [...lines('start', { ...early, ...name }), ...off];
    const ends = this.start.find(endsProgram);
    if (ends !== undefined) {
      throw new Fault('program/ends-early', `the start text ends the program: "${ends}"`, {
        key: 'dialect.start',
      });
    }
    const end = lines('end', { ...late, ...name });
    this.end = [...off, ...end, ...(end.some(endsProgram) ? [] : ['M2'])];
    this.afterFirstLayer = [
      ...(['nozzleTemperature', 'tableTemperature'] as const).flatMap((key) =>
        early[key] === late[key] ? [] : temperature(machine, key, late[key], early[key]),
      ),
      ...this.#fan(machine, material.fan),
    ];
  }

  #fan(machine: Machine, share: number): string[] {
    if (share === 0) return [];
    const { fan } = machine.dialect;
    if (fan) return [fill(fan.on, { share, byte: Math.round(share * 255) }, 'dialect.fan.on')];
    const message = `the material asks for the fan at ${share}, the machine file states no fan`;
    this.findings.push({ code: 'program/no-fan', severity: 'note', message });
    return comment(message);
  }
}

function temperature(
  machine: Machine,
  key: 'nozzleTemperature' | 'tableTemperature',
  value: number,
  before: number,
): string[] {
  const line = machine.dialect[key];
  if (line === undefined) {
    throw new Fault(
      'program/no-temperature-line',
      `the material wants ${before} deg C on the first layer and ${value} deg C after it, but the machine file has no line dialect.${key} that sets it`,
      { key: `dialect.${key}` },
    );
  }
  return [fill(line, { value }, `dialect.${key}`)];
}
