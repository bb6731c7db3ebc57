/** The files of a result by name and contents; the caller writes them. */
import { jsonText } from '../base/printable.js';
import { DEG } from '../base/vector.js';
import { writeStl, writeThreeMf } from '../formats/write-mesh.js';
import type { SliceInput } from './lay-out.js';
import type { SliceResult } from './pipeline.js';
import { errorsCsv, errorsPicture } from '../report/error-picture.js';
import { makePage } from '../page/data/page.js';
import { curvedSkin } from '../report/curved.js';
import { type CurvedPicture, regionsPicture } from '../report/regions-picture.js';
import type { Job } from './job-file.js';
import { preview } from '../report/beads-picture.js';
import type { Report } from '../report/report.js';
import { layersModel, regionsModel } from '../report/scene-models.js';
import { regionsOfRuns } from '../page/data/region-of-run.js';

/** What a file may hold; a program comes as an iterable of chunks. */
export type FileContents = string | Uint8Array | Iterable<string>;

/**
 * Contents by path within the folder.
 * @param template of the page, as the build leaves it in dist/page/page.html; used if the job wants a page
 */
export function resultFiles(
  result: SliceResult,
  { job, machine }: Pick<SliceInput, 'job' | 'machine'>,
  template: string,
): Map<string, FileContents> {
  const files = new Map<string, FileContents>();
  files.set('program.ngc', result.program);
  files.set('report.json', `${jsonText(result.report)}\n`);
  files.set('job.json', `${jsonText(job)}\n`);
  files.set(
    'regions.svg',
    regionsPicture(
      result.plan.regions,
      result.plan.hanging,
      captionOf(result.report),
      curvedPicture(result, job),
    ),
  );
  const named = result.plan.regions.map((region, i) => ({
    name: `region-${i + 1}`,
    mesh: region.mesh,
  }));
  files.set('part.stl', writeStl(result.plan.part));
  files.set('regions/regions.3mf', writeThreeMf(named));
  for (const { name, mesh } of named) files.set(`regions/${name}.stl`, writeStl(mesh));
  if (job.glb) {
    const lay = result.paths.map(({ paths }) => paths);
    files.set('regions/regions.glb', regionsModel(result.plan.regions));
    files.set('layers.glb', layersModel(result.layers, lay));
  }
  const { trace, time, turned, surface, map, budget, report } = result;
  const errors =
    trace && budget && report.errorBudget && errorsPicture(budget, trace, report.errorBudget);
  if (errors) {
    files.set('errors.csv', errorsCsv(budget));
    files.set('errors.svg', errors);
  }
  if (trace && time && map) {
    const { regions } = result.plan;
    const shown = {
      ...{ report, machine, regions, trace, time, map },
      ...(turned ? { turned } : {}),
      ...(surface ? { surface } : {}),
      ...(errors ? { errors } : {}),
    };
    files.set('report.html', makePage(template, shown));
    files.set('preview.png', preview(trace, regionsOfRuns(trace, regions)));
  }
  return files;
}

function curvedPicture(
  { plan, layers, report }: SliceResult,
  { layers: { thickness }, regions: { overhang } }: Job,
): CurvedPicture | undefined {
  const map = layers[0]?.map;
  const curved = report.regions[0]?.curved;
  if (map?.kind !== 'field' || !curved) return undefined;
  const skin = curvedSkin(plan.part, map, thickness, overhang * DEG);
  return { skin, mostTiltDeg: curved.mostTiltDeg };
}

function captionOf({ names, regions, unsupported: u }: Report): { title: string; summary: string } {
  const count = regions.length === 1 ? 'one region' : `${regions.length} regions`;
  return {
    title: `${names.part.split('/').at(-1)} in ${count}`,
    summary: `hangs unsupported: as placed ${u.asPlacedMm2.toFixed(1)} mm², in the best single direction ${u.bestSingleDirectionMm2.toFixed(1)} mm², in regions ${u.plannedMm2.toFixed(1)} mm²`,
  };
}
