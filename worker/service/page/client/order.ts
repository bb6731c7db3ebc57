/** The form for a new job: a part is dropped or chosen, looked at, and sent with its settings. */
import type { JobRecord, PartRecord } from '../../../store/job.js';
import { ask, send, upload } from './api.js';
import { at, make, say } from './dom.js';
import { type Schema, fieldsFor } from './fields.js';

/** As much of an inspection as the page tells. */
interface Inspection {
  readonly size: readonly number[];
  readonly volume: number;
  readonly triangles: number;
  readonly healed: readonly Finding[];
  readonly findings: readonly Finding[];
}

interface Finding {
  readonly severity: string;
  readonly message: string;
}

/** @param opened hears of a submitted job */
export async function openOrder(opened: (job: JobRecord) => void): Promise<void> {
  let part: PartRecord | undefined;
  const file = at<HTMLInputElement>('file');
  const take = async (chosen: File | undefined): Promise<void> => {
    if (!chosen) return;
    part = undefined;
    part = await bring(chosen);
  };
  file.addEventListener('change', () => void take(file.files?.[0]));
  acceptDrops((dropped) => {
    // The field shows the dropped file, as if it had been chosen.
    file.files = dropped;
    void take(dropped[0]);
  });
  const [schema] = await Promise.all([
    ask<Schema>('/v1/schemas/settings'),
    fillNames('machine'),
    fillNames('material'),
  ]);
  const settings = fieldsFor(schema, at('settings'));
  at('order').addEventListener('submit', (event) => {
    event.preventDefault();
    if (part) void submit(part, settings(), opened);
    else {
      say(at('answer'), 'Choose a part first.');
      file.focus();
    }
  });
}

function acceptDrops(take: (files: FileList) => void): void {
  const place = at('drop');
  // Dropped beside the place, a file would replace the page.
  for (const kind of ['dragover', 'drop'])
    document.addEventListener(kind, (event) => event.preventDefault());
  place.addEventListener('dragover', () => place.classList.add('over'));
  place.addEventListener('dragleave', () => place.classList.remove('over'));
  place.addEventListener('drop', (event) => {
    place.classList.remove('over');
    const files = event.dataTransfer?.files;
    if (files?.length) take(files);
  });
}

async function fillNames(kind: 'machine' | 'material'): Promise<void> {
  const { names } = await ask<{ names: string[] }>(`/v1/${kind}s`);
  const select = at<HTMLSelectElement>(kind);
  select.replaceChildren(...names.map((n) => make('option', { value: n }, n)));
  select.value = localStorage.getItem(kind) ?? names[0] ?? '';
  if (select.selectedIndex < 0) select.selectedIndex = 0;
  select.addEventListener('change', () => localStorage.setItem(kind, select.value));
}

/** Uploads a part and tells what it is; nothing if it was refused. */
async function bring(file: File): Promise<PartRecord | undefined> {
  const bar = at<HTMLProgressElement>('upload');
  const place = at('part');
  bar.hidden = false;
  say(place, `Uploading ${file.name}`);
  try {
    const part = await upload(file, (share) => {
      bar.value = share;
      if (share === 1) say(place, `Looking at ${file.name}`);
    });
    place.replaceChildren(...told(part));
    return part;
  } catch (error) {
    place.replaceChildren(make('p', { class: 'problem' }, (error as Error).message));
    return undefined;
  } finally {
    bar.hidden = true;
  }
}

function told({ name, inspection }: PartRecord): HTMLElement[] {
  const { size, volume, triangles, healed, findings } = inspection as Inspection;
  const sizes = size.map((s) => s.toFixed(1)).join(' × ');
  const figures = `${sizes} mm, ${(volume / 1000).toFixed(2)} cm³, ${triangles} triangles`;
  const worth = [...healed, ...findings].filter((f) => f.severity !== 'note');
  return [
    make('p', {}, make('strong', {}, name), `: ${figures}`),
    ...worth.map((f) =>
      make('p', { class: f.severity === 'error' ? 'problem' : 'warning' }, f.message),
    ),
  ];
}

async function submit(
  part: PartRecord,
  settings: object,
  opened: (job: JobRecord) => void,
): Promise<void> {
  const button = at<HTMLButtonElement>('submit');
  const value = (id: string): string => at<HTMLInputElement>(id).value.trim();
  button.disabled = true;
  say(at('answer'), '');
  try {
    const job = await send<JobRecord>('/v1/jobs', 'POST', {
      part: part.id,
      machine: value('machine'),
      material: value('material'),
      settings,
      priority: Number(value('priority')),
      ...(value('name') ? { name: value('name') } : {}),
    });
    opened(job);
  } catch (error) {
    at('answer').replaceChildren(make('p', { class: 'problem' }, (error as Error).message));
  } finally {
    button.disabled = false;
  }
}
