/**
 * The last stages of a job: its files are made and written. The report is the last file to be written,
 * so that it tells how long all others took; what it cannot tell is its own few kilobytes.
 */
import { jsonText } from '../base/printable.js';
import type { Report } from '../report/report.js';
import type { SliceInput } from './lay-out.js';
import type { SliceResult } from './pipeline.js';
import { type FileContents, resultFiles } from './result-files.js';

/** A result that lies where `write` put it. */
export interface FiledResult<W> {
  /** As it stands in report.json. */
  readonly report: Report;
  /** What `write` gave. */
  readonly written: W;
  /** Of the files, in the order in which they were written. */
  readonly names: readonly string[];
}

const REPORT = 'report.json';

/**
 * @param template as for `resultFiles`
 * @param write puts the files where they are to be, in their order
 */
export async function fileResult<W>(
  result: SliceResult,
  input: Pick<SliceInput, 'job' | 'machine'>,
  template: string,
  write: (files: ReadonlyMap<string, FileContents>) => Promise<W>,
): Promise<FiledResult<W>> {
  const { stages } = result;
  const files = stages.now('files', () => resultFiles(result, input, template));
  let report: Report | undefined;
  files.delete(REPORT);
  files.set(REPORT, {
    *[Symbol.iterator]() {
      report ??= { ...result.report, ...stages.timing() };
      yield `${jsonText(report)}\n`;
    },
  });
  const written = await stages.later('write', () => write(files));
  if (!report) throw new Error(`${REPORT} was not written`);
  return { report, written, names: [...files.keys()] };
}
