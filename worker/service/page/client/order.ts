/** The form for a new job: a part is dropped or chosen, inspected, and sent with its settings. */
import { likelyUnits } from '../../../../lib/mesh/units.js';
import type { JobRecord, PartRecord } from '../../../store/job.js';
import { openAdding } from './add.js';
import { ask, problemsOf, send, upload } from './api.js';
import { Choice, type Chosen } from './choice.js';
import { at, make, say } from './dom.js';
import { type Schema, fieldsFor } from './fields.js';

/** As much of an inspection as the page shows. */
interface Inspection {
  readonly size: readonly [number, number, number];
  readonly volume: number;
  readonly triangles: number;
  readonly healed: readonly Finding[];
  readonly findings: readonly Finding[];
}

interface Finding {
  readonly code: string;
  readonly severity: string;
  readonly message: string;
}

export interface OrderForm {
  /** Fills the form with what a job had, to be sent again with other settings. */
  again(job: number): Promise<void>;
}

/** What an earlier job was asked with, as a submission. */
interface Asked {
  readonly part: string;
  readonly name: string;
  readonly machine: Chosen;
  readonly material: Chosen;
  readonly settings: object;
  readonly priority: number;
}

/** @param opened hears of a submitted job */
export async function openOrder(opened: (job: JobRecord) => void): Promise<OrderForm> {
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
  const choices = {
    machine: new Choice('machine', at<HTMLAnchorElement>('machine-page')),
    material: new Choice('material'),
  };
  const [schema] = await Promise.all([
    ask<Schema>('/v1/schemas/settings'),
    choices.machine.refresh(),
    choices.material.refresh(),
  ]);
  openAdding(choices);
  const settings = fieldsFor(schema, at('settings'));
  at('order').addEventListener('change', () => say(at('answer'), ''));
  at('order').addEventListener('submit', (event) => {
    event.preventDefault();
    const { machine, material } = choices;
    if (!part) return missing('Choose a part first.', file);
    if (machine.value === undefined) return missing('Choose a machine first.', machine);
    if (material.value === undefined) return missing('Choose a material first.', material);
    const chosen = { machine: machine.value, material: material.value };
    void submit({ part: part.id, ...chosen, settings: settings.read() }, opened);
  });
  return {
    async again(job) {
      const asked = await ask<Asked>(`/v1/jobs/${job}/order`);
      part = await ask<PartRecord>(`/v1/parts/${asked.part}`);
      file.value = '';
      at('part').replaceChildren(...words(part));
      choices.machine.choose(asked.machine, job);
      choices.material.choose(asked.material, job);
      settings.show(asked.settings);
      at<HTMLInputElement>('name').value = asked.name === part.name ? '' : asked.name;
      at<HTMLInputElement>('priority').value = String(asked.priority);
      say(at('order-about'), `This is what job ${job} had. Change what you want and submit it.`);
      at('order-title').focus();
    },
  };
}

/** Says what is not chosen yet and takes the reader there. */
function missing(message: string, place: { focus(): void }): void {
  say(at('answer'), message);
  place.focus();
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

/** Uploads a part and says what it is; nothing if it was refused. */
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
    place.replaceChildren(...words(part));
    return part;
  } catch (error) {
    place.replaceChildren(make('p', { class: 'problem' }, (error as Error).message));
    return undefined;
  } finally {
    bar.hidden = true;
  }
}

/** What a part is, and what is doubtful about it: its unit, what had to be healed. */
function words({ name, inspection }: PartRecord): HTMLElement[] {
  const { size, volume, triangles, healed, findings } = inspection as Inspection;
  const sizes = size.map((s) => s.toFixed(1)).join(' × ');
  const figures = `${sizes} mm, ${(volume / 1000).toFixed(2)} cm³, ${triangles} triangles`;
  const worth = [...healed, ...findings].filter((f) => f.severity !== 'note');
  return [
    make('p', {}, make('strong', {}, name), `: ${figures}`),
    ...worth.map((f) =>
      make('p', { class: f.severity === 'error' ? 'problem' : 'warning' }, f.message),
    ),
    ...(worth.some((f) => f.code === 'mesh/unit-doubtful') ? [unitChoice(size)] : []),
  ];
}

/** A likely unit is one press away: it becomes the setting of the place. */
function unitChoice(size: Inspection['size']): HTMLElement {
  const answer = make('span', { class: 'hint', role: 'status' });
  const buttons = likelyUnits(size).map((unit) => {
    const button = make('button', { type: 'button' }, `Take it as ${unit}`);
    button.addEventListener('click', () => {
      const field = at<HTMLSelectElement>('set-place-unit');
      field.value = JSON.stringify(unit);
      say(answer, `The unit is set to ${unit}, under Place.`);
    });
    return button;
  });
  return make('div', { class: 'actions' }, ...buttons, answer);
}

async function submit(
  asks: Pick<Asked, 'part' | 'machine' | 'material' | 'settings'>,
  opened: (job: JobRecord) => void,
): Promise<void> {
  const button = at<HTMLButtonElement>('submit');
  const value = (id: string): string => at<HTMLInputElement>(id).value.trim();
  button.disabled = true;
  say(at('answer'), '');
  try {
    const job = await send<JobRecord>('/v1/jobs', 'POST', {
      ...asks,
      priority: Number(value('priority')),
      ...(value('name') ? { name: value('name') } : {}),
    });
    opened(job);
  } catch (error) {
    const lines = problemsOf(error).map((p) => make('p', { class: 'problem' }, p));
    at('answer').replaceChildren(...lines);
  } finally {
    button.disabled = false;
  }
}
