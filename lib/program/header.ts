/**
 * The comment block that opens a program: what it makes, on which machine, in which units and
 * frames, and what can hurt someone (after ISO 13732-1, ISO 13854, IEC 60204-1, ISO 12100).
 */
import { printable } from '../base/printable.js';
import type { Vec3 } from '../base/vector.js';
import { DEG } from '../base/vector.js';
import type { Machine } from '../machine/machine.js';
import { senseLines } from '../machine/sense.js';
import type { Material } from '../machine/material.js';
import type { Motion } from '../motion/motion.js';
import { comment, duration } from './text.js';

/** What the program says about its part. */
export interface Heading {
  readonly part: string;
  /** Unit build direction of each region, part frame, if the regions are to be described. */
  readonly directions?: readonly Vec3[];
}

export function headerLines(
  heading: Heading,
  machine: Machine,
  material: Material,
  motion: Motion,
  filamentMm: number,
): string[] {
  const { dialect } = machine;
  const letters = machine.joints.map((j) => `${j.letter} ${j.kind === 'linear' ? 'mm' : 'deg'}`);
  const filament = `${dialect.filament.letter} mm of filament, ${dialect.filament.mode}`;
  const metres = (filamentMm / 1000).toFixed(2);
  return [
    `part: ${printable(heading.part)}`,
    `machine: ${machine.name}; nozzle ${machine.nozzle.diameter} mm; filament ${machine.filamentDiameter} mm, ${material.name}`,
    `estimated time ${duration(motion.totalSeconds)}; filament ${metres} m`,
    `units: ${letters.join(', ')}; ${filament}; positions are absolute joint values`,
    feedSentence(machine),
    ...playSentences(machine),
    'frames: machine coordinates, every joint zero as the machine file states; the part stands on the table face, its origin where the rotary axis meets the face',
    ...senseLines(machine),
    'no rapid moves: links and transfers run at a stated feed, so that all joints arrive together',
    `CAUTION: nozzle ${material.nozzleTemperature} deg C and table ${material.tableTemperature} deg C burn; keep hands out while anything moves, a tilting cradle crushes fingers`,
    'CAUTION: the cradle can fall when power is cut: brake or balance it; heaters need a fuse, earth and a thermal cut-off of their own',
    'CAUTION: fumes and fine particles: ventilate; no unattended run without precautions against fire',
    'CAUTION: have an emergency stop in reach; this program is no safety function; assess the risks first',
    `start: the start text leaves the machine where a straight slow move to ${placeOf(machine, motion.from)} is free`,
  ].flatMap(comment);
}

/** Compensated twice, play would show again. */
function playSentences({ dialect, joints }: Machine): string[] {
  const loose = joints.filter((j) => j.kind === 'linear' && j.backlash > 0);
  if (dialect.play !== 'program' || loose.length === 0) return [];
  const list = loose.map((j) => `${j.letter} ${j.backlash} mm`).join(', ');
  return [
    `play: ${list} are counted in these values; the controller must not make up for them as well`,
  ];
}

function feedSentence(machine: Machine): string {
  const { rotaryFeed, rotaryFeedMeaning } = machine.dialect;
  if (rotaryFeed === 'G93')
    return 'feed: G94 mm a minute; G93 one over minutes where a rotary axis turns';
  return rotaryFeedMeaning === 'tip'
    ? 'feed: G94 mm a minute; where a rotary axis turns F is the speed of the tip over the part'
    : 'feed: G94 mm a minute; where a rotary axis turns F is the speed of the XYZ motion, or deg a minute without one';
}

function placeOf(machine: Machine, joints: ArrayLike<number>): string {
  return machine.joints
    .map((j, i) => {
      const value = j.kind === 'linear' ? joints[i]! : joints[i]! / DEG;
      return `${j.letter} ${Number(value.toFixed(2))}`;
    })
    .join(' ');
}

/** The mark before the first block of a region's layer. Counts are from one. */
export function layerMark(
  heading: Heading,
  region: number,
  regions: number,
  layer: number,
  layers: number,
  regionBegins: boolean,
): string[] {
  const marks: string[] = [];
  const direction = heading.directions?.[region];
  if (regionBegins) {
    const along = direction
      ? `; build direction ${direction.map((c) => Number(c.toFixed(4)) + 0).join(' ')}`
      : '';
    marks.push(`region ${region + 1} of ${regions}${along}`);
  }
  marks.push(`region ${region + 1}, layer ${layer + 1} of ${layers}`);
  return marks.flatMap(comment);
}
