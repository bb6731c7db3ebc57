/** The page: a form for a new job, the list, the job that is looked at, and events as they come in. */
import type { JobEvent, Progress } from '../../../store/job.js';
import { ask } from './api.js';
import { at, say } from './dom.js';
import { JobView } from './job.js';
import { JobList } from './list.js';
import { type OrderForm, openOrder } from './order.js';

interface Health {
  readonly status: 'ok' | 'trouble';
  readonly trouble?: { readonly message: string };
}

/** Many events at once lead to one look. */
const LOOK_MS = 300;
const HEALTH_MS = 15_000;

const list = new JobList();
/** Filled once the service has let us in. */
const page: { form?: OrderForm } = {};
const view = new JobView(
  () => {
    location.hash = '';
    at('jobs-title').focus();
  },
  async (job) => page.form?.again(job),
);
let look: ReturnType<typeof setTimeout> | undefined;

function refreshSoon(): void {
  look ??= setTimeout(() => {
    look = undefined;
    void list.refresh();
  }, LOOK_MS);
}

/** The address names the job that is looked at, so that it can be kept and sent. */
function follow(focus: boolean): void {
  const id = Number(/^#job-(\d+)$/.exec(location.hash)?.[1] ?? 0);
  list.mark(id);
  if (id) void view.show(id, focus);
  else view.hide();
}

function listen(): void {
  const events = new EventSource('/v1/events');
  events.onmessage = (message: MessageEvent<string>) => {
    const { job, kind, data } = JSON.parse(message.data) as JobEvent;
    if (kind === 'progress') {
      if (job === view.id) view.progress(data as Progress);
      return;
    }
    refreshSoon();
    if (job === view.id && kind !== 'removed') void view.show(job, false);
  };
  events.onerror = () => say(at('health'), 'no connection to the service; trying again');
  events.onopen = () => {
    void health();
    void list.refresh();
    follow(false);
  };
}

async function health(): Promise<void> {
  const place = at('health');
  try {
    const response = await fetch('/v1/health');
    const { status, trouble } = (await response.json()) as Health;
    say(place, status === 'ok' ? 'connected' : `trouble: ${trouble?.message}`);
  } catch {
    say(place, 'no connection to the service; trying again');
  }
}

window.addEventListener('hashchange', () => follow(true));
// The first request asks for the token, if one is needed.
await ask('/v1/jobs?limit=1');
setInterval(() => void health(), HEALTH_MS);
listen();
page.form = await openOrder((job) => {
  location.hash = `#job-${job.id}`;
});
