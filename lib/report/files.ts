/** A result becomes the named files of its folder; whoever calls writes them. */
import type { Job } from '../job.js';
import { writeStl, writeThreeMf } from '../mesh/write.js';
import type { SliceResult } from '../pipeline.js';
import { regionsPicture } from './picture.js';
import type { Report } from './report.js';

/** What a file may hold; a program comes as an iterable of chunks. */
export type Contents = string | Uint8Array | Iterable<string>;

/** Contents by path within the folder. */
export function resultFiles(result: SliceResult, job: Job): Map<string, Contents> {
  const files = new Map<string, Contents>();
  files.set('program.ngc', result.program);
  files.set('report.json', `${JSON.stringify(result.report, null, 2)}\n`);
  files.set('job.json', `${JSON.stringify(job, null, 2)}\n`);
  files.set(
    'regions.svg',
    regionsPicture(result.plan.regions, result.plan.hanging, captionOf(result.report)),
  );
  const named = result.plan.regions.map((region, i) => ({
    name: `region-${i + 1}`,
    mesh: region.mesh,
  }));
  files.set('regions/regions.3mf', writeThreeMf(named));
  for (const { name, mesh } of named) files.set(`regions/${name}.stl`, writeStl(mesh));
  return files;
}

function captionOf({ names, regions, unsupported: u }: Report): { title: string; summary: string } {
  const count = regions.length === 1 ? 'one region' : `${regions.length} regions`;
  return {
    title: `${names.part.split('/').at(-1)} in ${count}`,
    summary: `hangs unsupported: as placed ${u.asPlacedMm2.toFixed(1)} mm², in the best single direction ${u.bestSingleDirectionMm2.toFixed(1)} mm², in regions ${u.plannedMm2.toFixed(1)} mm²`,
  };
}
