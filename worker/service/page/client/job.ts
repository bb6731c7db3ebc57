/** One job: its state, its result, its pictures, report and files. */
import type { JobRecord, Progress, ResultFile } from '../../../store/job.js';
import { findingCounts, duration, outcome } from '../../../store/outcome.js';
import { ask, filesOf, send } from './api.js';
import { at, make, say } from './dom.js';
import { type Finding, findingLines } from './findings.js';
import { colourOf } from './list.js';
import { advance, size, standing } from './words.js';

/** What pictures show, for those who cannot see them. */
const PICTURES: Readonly<Record<string, string>> = {
  'regions.svg':
    'The part from three sides, coloured by region, build directions as arrows, hatched where something hangs',
  'preview.png': 'The beads of the finished program, coloured by region',
  'errors.svg':
    'The beads coloured by how far the tip is to be expected off, with a bar for each source',
};
const PROGRAM = 'program.ngc';
const REPORT = 'report.html';

export class JobView {
  readonly #place = at('job');
  readonly #gone: () => void;
  readonly #again: (job: number) => Promise<void>;
  #id = 0;
  /** The try that is shown, and how far it has been seen to come. */
  #try = 0;
  #share = 0;

  /**
   * @param gone is called when the job was removed
   * @param again fills the form with what a job had
   */
  constructor(gone: () => void, again: (job: number) => Promise<void>) {
    this.#gone = gone;
    this.#again = again;
  }

  get id(): number {
    return this.#id;
  }

  hide(): void {
    this.#id = 0;
    this.#place.hidden = true;
  }

  /** Shows a job; `focus` brings the reader there. */
  async show(id: number, focus: boolean): Promise<void> {
    this.#id = id;
    let held = false;
    try {
      const job = await ask<JobRecord>(`/v1/jobs/${id}`);
      const files = job.state === 'finished' ? await filesOf(id) : [];
      const findings = files.some((f) => f.name === 'report.json') ? await findingsOf(id) : [];
      // Another job may have been chosen meanwhile.
      if (this.#id !== id) return;
      // What has the focus is made anew: the reader stays in the job.
      held = this.#place.contains(document.activeElement);
      this.#fill(job, files, findings);
    } catch (error) {
      this.#place.replaceChildren(
        make('h2', { id: 'job-title', tabindex: '-1' }, `Job ${id}`),
        make('p', { class: 'problem' }, (error as Error).message),
      );
    }
    this.#place.hidden = false;
    if (focus || held) at('job-title').focus();
  }

  /**
   * Between two events of a change, only the bar moves, and never back: an answer may be older than an
   * event that overtook it.
   */
  progress(progress: Progress): void {
    if (progress.share < this.#share) return;
    this.#share = progress.share;
    const bar = this.#place.querySelector('progress');
    if (bar) bar.value = progress.share;
    const words = document.getElementById('stage');
    if (words) say(words, advance(progress));
  }

  #fill(job: JobRecord, files: readonly ResultFile[], findings: readonly Finding[]): void {
    const { id, name, state } = job;
    if (job.started !== this.#try) this.#share = 0;
    this.#try = job.started ?? 0;
    this.#place.replaceChildren(
      make('h2', { id: 'job-title', tabindex: '-1' }, `Job ${id}: ${name}`),
      make(
        'p',
        { role: 'status' },
        make('span', { class: `state ${colourOf(job)}` }, outcome(job)),
        ' ',
        make('span', { id: 'stage' }, standing(job)),
      ),
      ...(state === 'running'
        ? [make('progress', { 'aria-label': 'Progress of the job', value: String(this.#share) })]
        : []),
      this.#actions(job, files),
      ...figures(job),
      ...findingLines(findings),
      ...pictures(job, files),
      ...downloads(job, files),
      make('p', { id: 'job-answer', role: 'alert' }),
    );
    if (job.progress && state === 'running') this.progress(job.progress);
  }

  #actions(job: JobRecord, files: readonly ResultFile[]): HTMLElement {
    const place = make('p', { class: 'actions' });
    const has = (name: string): boolean => files.some((f) => f.name === name);
    if (has(PROGRAM))
      place.append(
        make(
          'a',
          { class: 'button main', href: href(job, PROGRAM), download: '' },
          'Download program',
        ),
      );
    const report = has(REPORT) ? REPORT : has('report.json') ? 'report.json' : undefined;
    if (report)
      place.append(
        make(
          'a',
          { class: 'button', href: href(job, report), target: '_blank', rel: 'noopener' },
          'Open report',
        ),
      );
    place.append(
      this.#button('Again with other settings', () => this.#again(job.id)),
      job.ended === undefined ? this.#cancel(job) : this.#remove(job),
    );
    return place;
  }

  #cancel({ id }: JobRecord): HTMLButtonElement {
    return this.#button('Cancel job', () => send(`/v1/jobs/${id}/cancel`, 'POST'));
  }

  /** The second press counts: a result is gone for good. */
  #remove({ id }: JobRecord): HTMLButtonElement {
    const button = this.#button('Remove job', async () => {
      if (button.textContent === 'Remove job') {
        say(button, 'Remove job and result for good');
        return;
      }
      await send(`/v1/jobs/${id}`, 'DELETE');
      this.#gone();
    });
    return button;
  }

  #button(label: string, work: () => Promise<unknown>): HTMLButtonElement {
    const button = make('button', { type: 'button' }, label);
    button.addEventListener('click', () => {
      work().catch((error: unknown) => say(at('job-answer'), (error as Error).message));
    });
    return button;
  }
}

/** What the command would have ended with. */
const EXITS: Readonly<Record<number, string>> = {
  0: '0: no errors were found',
  1: '1: refused or given up',
  3: '3: errors were found; do not print it as it is',
};

const findingsOf = async (id: number): Promise<readonly Finding[]> =>
  (await ask<{ findings: readonly Finding[] }>(`/v1/jobs/${id}/files/report.json`)).findings;

const href = ({ id }: JobRecord, name: string): string =>
  `/v1/jobs/${id}/files/${name.split('/').map(encodeURIComponent).join('/')}`;

function figures(job: JobRecord): HTMLElement[] {
  const time = (ms: number): string => new Date(ms).toLocaleString();
  const rows: [string, string][] = [
    ['Part', job.partName],
    ['Machine', job.machineName],
    ['Material', job.materialName],
    ['Submitted', time(job.made)],
  ];
  if (job.ended !== undefined) rows.push(['Ended', time(job.ended)]);
  if (job.summary) {
    const { regions, seconds, massG, unsupportedMm2 } = job.summary;
    rows.push(
      ['Regions', String(regions)],
      ['Time on the machine, estimated', duration(seconds)],
      ['Material needed', `${massG.toFixed(1)} g`],
      ['Left hanging, from the layers', `${unsupportedMm2.toFixed(1)} mm²`],
      ['Findings', findingCounts(job.summary)],
    );
  }
  if (job.exit !== undefined) rows.push(['Exit code of slice', EXITS[job.exit]!]);
  return [
    make('dl', {}, ...rows.map(([k, v]) => make('div', {}, make('dt', {}, k), make('dd', {}, v)))),
  ];
}

function pictures(job: JobRecord, files: readonly ResultFile[]): HTMLElement[] {
  const images = Object.entries(PICTURES)
    .filter(([name]) => files.some((f) => f.name === name))
    .map(([name, alt]) => make('img', { src: href(job, name), alt }));
  return images.length ? [make('div', { class: 'pictures' }, ...images)] : [];
}

function downloads(job: JobRecord, files: readonly ResultFile[]): HTMLElement[] {
  if (files.length === 0) return [];
  const links = files.map((f) =>
    make(
      'li',
      {},
      make('a', { href: href(job, f.name), download: '' }, `${f.name} (${size(f.bytes)})`),
    ),
  );
  return [make('h3', {}, 'All files'), make('ul', { class: 'files' }, ...links)];
}
