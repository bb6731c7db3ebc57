/** The list of jobs, newest first, a page at a time. */
import type { JobRecord } from '../../../store/job.js';
import { type JobPage, ask } from './api.js';
import { at, make } from './dom.js';
import { outcome } from '../../../store/outcome.js';
import { standing } from './words.js';

const PAGE = 20;

export class JobList {
  readonly #place = at('list');
  readonly #state = at<HTMLSelectElement>('state');
  readonly #older = at<HTMLButtonElement>('older');
  #shown = PAGE;
  #current = 0;

  constructor() {
    this.#state.addEventListener('change', () => void this.refresh());
    this.#older.addEventListener('click', () => {
      this.#shown += PAGE;
      void this.refresh();
    });
  }

  /** Marks the job whose figures are shown. */
  mark(id: number): void {
    this.#current = id;
    for (const link of this.#place.querySelectorAll('a'))
      this.#setCurrent(link, link.hash === `#job-${id}`);
  }

  async refresh(): Promise<void> {
    const jobs: JobRecord[] = [];
    let next: number | undefined;
    do {
      const query = new URLSearchParams({
        limit: String(Math.min(200, this.#shown - jobs.length)),
      });
      if (this.#state.value) query.set('state', this.#state.value);
      if (next !== undefined) query.set('before', String(next));
      const page = await ask<JobPage>(`/v1/jobs?${query.toString()}`);
      jobs.push(...page.jobs);
      next = page.next;
    } while (next !== undefined && jobs.length < this.#shown);
    this.#older.hidden = next === undefined;
    this.#show(jobs);
  }

  /** Keeps the focus where it is while the lines change. */
  #show(jobs: readonly JobRecord[]): void {
    const focused = document.activeElement?.id;
    const lines = jobs.map((job) => make('li', {}, this.#line(job)));
    if (lines.length === 0) lines.push(make('li', { class: 'hint' }, 'No jobs here yet.'));
    this.#place.replaceChildren(...lines);
    if (focused?.startsWith('to-')) document.getElementById(focused)?.focus();
  }

  #line(job: JobRecord): HTMLAnchorElement {
    const more = standing(job);
    const link = make(
      'a',
      { href: `#job-${job.id}`, id: `to-${job.id}` },
      make('span', {}, String(job.id)),
      make('span', { class: 'name' }, job.name),
      make('span', { class: `state ${colourOf(job)}` }, outcome(job)),
      ...(more ? [make('span', { class: 'more' }, more)] : []),
    );
    this.#setCurrent(link, job.id === this.#current);
    return link;
  }

  #setCurrent(link: HTMLAnchorElement, current: boolean): void {
    if (current) link.setAttribute('aria-current', 'true');
    else link.removeAttribute('aria-current');
  }
}

/** Class of a state: what finished with errors is a problem. */
export const colourOf = ({ state, summary }: JobRecord): string =>
  summary && summary.errors > 0 ? 'problem' : state;
