/** The page's requests to the service. */
import type { JobRecord, PartRecord, ResultFile } from '../../../store/job.js';
import { at, say } from './dom.js';

/** The service refused; the message is for people. */
export class Refused extends Error {
  /** All that is wrong, where the service lists more than one thing. */
  readonly problems: readonly string[];

  constructor(message: string, problems: readonly string[] = []) {
    super(message);
    this.problems = problems.length > 0 ? problems : [message];
  }
}

/** What is wrong, line by line. */
export const problemsOf = (error: unknown): readonly string[] =>
  error instanceof Refused ? error.problems : [(error as Error).message];

export interface JobPage {
  readonly jobs: readonly JobRecord[];
  readonly next?: number;
}

/** The body of an answer. A missing token is asked for, and the request is made again. */
export async function ask<T>(path: string, init: RequestInit = {}): Promise<T> {
  const response = await fetch(path, init);
  if (response.status === 401) {
    await askToken();
    return ask(path, init);
  }
  const text = await response.text();
  if (!response.ok) throw refusal(text, response.status);
  return (text ? JSON.parse(text) : undefined) as T;
}

export const send = <T>(path: string, method: string, body?: object): Promise<T> =>
  ask(path, {
    method,
    ...(body
      ? { headers: { 'content-type': 'application/json' }, body: JSON.stringify(body) }
      : {}),
  });

export const filesOf = async (id: number): Promise<readonly ResultFile[]> =>
  (await ask<{ files: ResultFile[] }>(`/v1/jobs/${id}/files`)).files;

/** Uploads a part. (fetch does not report the progress of an upload.) */
export function upload(file: File, progress: (share: number) => void): Promise<PartRecord> {
  return new Promise((resolve, reject) => {
    const request = new XMLHttpRequest();
    request.open('POST', `/v1/parts?name=${encodeURIComponent(file.name)}`);
    request.setRequestHeader('content-type', 'application/octet-stream');
    request.upload.onprogress = (event) => progress(event.loaded / event.total);
    request.onload = () => {
      if (request.status === 201) resolve(JSON.parse(request.responseText) as PartRecord);
      else reject(refusal(request.responseText, request.status));
    };
    request.onerror = () => reject(new Refused('The service did not take the upload.'));
    request.send(file);
  });
}

interface Problem {
  readonly code: string;
  readonly message: string;
}

function refusal(text: string, status: number): Refused {
  try {
    const { error } = JSON.parse(text) as { error: Problem & { problems?: readonly Problem[] } };
    const words = ({ message, code }: Problem): string => `${message} (${code})`;
    return new Refused(words(error), error.problems?.map(words));
  } catch {
    return new Refused(`The service answered ${status} without a reason.`);
  }
}

let asking: Promise<void> | undefined;

/** Asks once, however many requests wait for it. */
function askToken(): Promise<void> {
  asking ??= new Promise<void>((resolve) => {
    const box = at<HTMLDialogElement>('token-box');
    const input = at<HTMLInputElement>('token');
    const offer = async (event: Event): Promise<void> => {
      event.preventDefault();
      const remember = at<HTMLInputElement>('remember').checked;
      const response = await fetch('/v1/session', {
        method: 'POST',
        headers: {
          authorization: `Bearer ${input.value}`,
          'content-type': 'application/json',
        },
        body: JSON.stringify({ remember }),
      });
      if (!response.ok) return say(at('token-answer'), 'The service does not know this token.');
      at('token-form').removeEventListener('submit', listener);
      input.value = '';
      box.close();
      resolve();
    };
    const listener = (event: Event): void => void offer(event);
    at('token-form').addEventListener('submit', listener);
    // Without a token there is nothing to see, so the box stays.
    box.addEventListener('cancel', (event) => event.preventDefault());
    box.showModal();
  }).finally(() => (asking = undefined));
  return asking;
}
