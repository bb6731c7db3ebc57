/** What a person wants to read first, in a few lines on the output stream. */
import { errorWords } from '../lib/report/error-words.js';
import type { Report } from '../lib/index.js';
import { duration } from '../worker/store/outcome.js';
import { findingLines } from './finding-lines.js';
import { printLines } from './streams.js';

/**
 * @param names of the files and folders in the result folder
 * @param seconds from the start of the command until now
 */
export function printSummary(
  report: Report,
  folder: string,
  names: readonly string[],
  seconds: number,
): void {
  const u = report.unsupported;
  const lines = [
    `${report.regions.length} region${report.regions.length === 1 ? '' : 's'}:`,
    ...report.regions.map(
      (r, i) =>
        `  ${i + 1}  ${growth(r)}, ${r.layers} layers, ${(r.volumeMm3 / 1000).toFixed(2)} cm3, unsupported ${r.unsupportedMm2.toFixed(1)} mm2`,
    ),
    `unsupported: as placed ${u.asPlacedMm2.toFixed(1)} mm2, best single direction ${u.bestSingleDirectionMm2.toFixed(1)} mm2, as planned ${u.plannedMm2.toFixed(1)} mm2, counted from the layers ${u.fromLayersMm2.toFixed(1)} mm2 (${u.overFillMm2.toFixed(1)} mm2 of it between beads of fill)`,
    ...(u.bridges.mm2 > 0
      ? [
          `bridged: ${u.bridges.mm2.toFixed(1)} mm2, at most ${u.bridges.longestMm.toFixed(1)} mm from end to end`,
        ]
      : []),
    footingLine(report),
    `turning joints, ${report.turning.seen}:`,
    ...report.turning.joints.map(({ text }) => `  ${text}`),
    `motion: ${duration(report.motion.seconds)} (estimated), ${report.motion.blocks} blocks, ${report.motion.transfers} transfers; joint ${report.motion.slowestJoint} sets the pace most`,
    `material: ${report.material.massG.toFixed(1)} g, ${(report.material.filamentMm / 1000).toFixed(2)} m of filament`,
    ...(report.errorBudget ? errorWords(report.errorBudget) : []),
    ...findingLines(report.findings, 'all in report.json'),
    tookLine(report, seconds),
    `written to ${folder}: ${names.join(', ')}`,
  ];
  printLines(lines);
}

/** Stages that take less of the whole are not named. */
const WORTH_NAMING = 0.05;

/** How long it took, and the stages that took most of that; what a stage took in several goes is one sum. */
function tookLine({ took, stages }: Report, seconds: number): string {
  const byName = new Map<string, { seconds: number; cpuSeconds: number }>();
  for (const { name, seconds, cpuSeconds = 0 } of stages) {
    const sum = byName.get(name) ?? { seconds: 0, cpuSeconds: 0 };
    byName.set(name, {
      seconds: sum.seconds + seconds,
      cpuSeconds: sum.cpuSeconds + cpuSeconds,
    });
  }
  const most = [...byName]
    .filter(([, s]) => s.seconds > WORTH_NAMING * took.seconds)
    .sort(([, a], [, b]) => b.seconds - a.seconds)
    .map(([name, s]) => `${name} ${s.seconds.toFixed(1)} s (${s.cpuSeconds.toFixed(1)} s)`);
  const cpu = (took.cpuSeconds ?? 0).toFixed(1);
  return `took ${seconds.toFixed(1)} s (${cpu} s of processor time), most of it: ${most.join(', ')}`;
}

/** In which direction a region grows. */
function growth({ tiltDeg, rotaryDeg, curved }: Report['regions'][number]): string {
  if (!curved) return `tilt ${tiltDeg.toFixed(1)} deg, rotary ${rotaryDeg.toFixed(1)} deg`;
  const [thin, thick] = curved.thicknessMm;
  return `curved layers, tilt up to ${curved.mostTiltDeg.toFixed(1)} deg, ${thin.toFixed(2)} to ${thick.toFixed(2)} mm thick`;
}

/** What holds the part to the table. */
function footingLine({ footing, regions }: Report): string {
  const { contactMm2, table, mostTableMpa, pushN } = footing;
  const first = regions[0]!.firstBeadMm ?? 0;
  const pull = table
    ? `pulls at it with at most ${table.mpa.toFixed(2)} MPa of ${mostTableMpa} by a push of ${pushN} N and its weight, in region ${table.region + 1}`
    : 'nothing holds it';
  return `foot: lays ${contactMm2.toFixed(1)} mm2 on the table, ${pull}; first bead ${first.toFixed(2)} mm over it`;
}
