/** The files of a result folder, by name. */
import type { Contents } from './files.js';
import type { Job } from '../lib/job.js';
import { writeStl, writeThreeMf } from '../lib/mesh/write.js';
import type { SliceResult } from '../lib/pipeline.js';
import { planPicture } from '../lib/report/plan.js';

export function resultFiles(result: SliceResult, job: Job): Map<string, Contents> {
  const files = new Map<string, Contents>();
  files.set('program.ngc', result.program);
  files.set('report.json', `${JSON.stringify(result.report, null, 2)}\n`);
  files.set('job.json', `${JSON.stringify(job, null, 2)}\n`);
  files.set('regions.svg', planPicture(result.plan, result.report, job.regions.overhang));
  const named = result.plan.regions.map((region, i) => ({ name: `region-${i + 1}`, mesh: region.mesh }));
  files.set('regions/regions.3mf', writeThreeMf(named));
  for (const { name, mesh } of named) files.set(`regions/${name}.stl`, writeStl(mesh));
  return files;
}
