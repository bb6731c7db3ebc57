/** The report of a check, in lines for people. */
import type { ProgramCheck } from '../lib/index.js';
import { findingLines } from './finding-lines.js';

/** @param all where every finding stands with its place, as words after a comma */
export function checkLines(check: ProgramCheck, all: string): string[] {
  const { print, shape } = check;
  const errors = check.findings.filter((f) => f.severity === 'error').length;
  return [
    `${check.lines} lines, ${check.blocks} blocks, ${(check.seconds / 60).toFixed(1)} min at the stated feeds`,
    `material: ${(check.volumeMm3 / 1000).toFixed(2)} cm3, ${(check.filamentMm / 1000).toFixed(2)} m of filament`,
    ...(print ? printLines(print) : []),
    ...(shape ? shapeLines(shape) : []),
    ...findingLines(check.findings, all),
    errors === 0 ? 'no errors' : `findings of severity error: ${errors}`,
  ];
}

const printLines = (p: NonNullable<ProgramCheck['print']>): string[] => [
  `beads: ${(p.lengthMm / 1000).toFixed(1)} m in ${p.layers} layers, usually ${p.widthMm.toFixed(2)} x ${p.heightMm.toFixed(2)} mm; in the air ${p.inAirMm.toFixed(1)} mm (${(100 * p.inAirShare).toFixed(3)}%); touches ${p.touches}`,
  `room: ${(p.filledMm3 / 1000).toFixed(2)} cm3 filled by ${(p.meteredMm3 / 1000).toFixed(2)} cm3, too full by ${p.overfullMm3.toFixed(1)} mm3`,
];

const shapeLines = (s: NonNullable<ProgramCheck['shape']>): string[] => [
  `shape: error ${s.meanMm.toFixed(3)} mm in the mean, 95% within ${s.p95Mm.toFixed(3)} mm, ${s.leastMm.toFixed(2)} mm at ${s.leastAt.join(' ')} to ${s.mostMm.toFixed(2)} mm at ${s.mostAt.join(' ')}`,
  `surface: missing ${s.missingMm2.toFixed(1)} mm2, standing out ${s.tooMuchMm2.toFixed(1)} mm2, open skin ${s.openSkinMm2.toFixed(1)} mm2 of ${s.areaMm2.toFixed(0)} mm2; outside the part ${s.outsideMm3.toFixed(2)} mm3, on the table ${s.onTableMm3.toFixed(1)} mm3`,
];
