/**
 * A page on which the readings of a plan are entered or pasted: one file of HTML that needs no network. It
 * keeps what was entered in the browser and hands it back as the CSV that the fit reads.
 */
import type { Machine } from '../machine/machine.js';
import { type PlanFile, columnsOf } from './touch-files.js';
import { SCRIPT } from './form-script.js';

type PlannedTouch = PlanFile['touches'][number];

export function formPage(machine: Machine, plan: PlanFile): string {
  const columns = columnsOf(machine);
  const title = `Readings: ${plan.touches.length} touches on ${plan.machine}`;
  const data = { key: `readings ${plan.machine} ${digest(plan)}`, columns };
  return `<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; script-src 'unsafe-inline'; style-src 'unsafe-inline'; img-src data:">
<title>${escaped(title)}</title>
<link rel="icon" href="data:,">
<style>${FORM_STYLE}</style>
</head>
<body>
<header>
<h1>${escaped(title)}</h1>
<p>Enter the joint values that the controller shows at each touch, mm. Enter goes on to the next field. Before the next touch: hands out of the machine, a hand on the stop.</p>
</header>
<main>
<details>
<summary>Paste from a spreadsheet</summary>
<label for="paste">Rows as in readings.csv, or only the columns that are asked for here, from the first empty row on</label>
<textarea id="paste" rows="5" spellcheck="false"></textarea>
<button type="button" id="take">Take over</button>
</details>
<div class="bar">
<p id="state" role="status"></p>
<button type="button" id="save">Save readings.csv</button>
<button type="button" id="clear">Clear all</button>
</div>
<div class="scroller" tabindex="0" role="region" aria-label="readings">
<table>
<thead><tr>${columns.map((c) => `<th scope="col">${escaped(c)}</th>`).join('')}</tr></thead>
<tbody>
${plan.touches.map((touch) => rowOf(machine, touch)).join('\n')}
</tbody>
</table>
</div>
</main>
<script type="application/json" id="data">${JSON.stringify(data).replaceAll('<', '\\u003c')}</script>
<script>${SCRIPT}</script>
</body>
</html>
`;
}

function rowOf({ joints }: Machine, { touch, aim, joints: planned, play }: PlannedTouch): string {
  const side = play
    ? `, ${play.joint} from ${play.from}${play.loaded ? ', with the weight' : ''}`
    : '';
  const cells = joints.map(({ kind, letter }) => {
    const value = planned[letter]!;
    return kind === 'rotary'
      ? `<td>${value}</td>`
      : `<td><input inputmode="decimal" autocomplete="off" aria-label="${letter} of touch ${touch}, mm" placeholder="${value}"></td>`;
  });
  return `<tr data-touch="${touch}" data-aim="${aim}"><th scope="row">${touch}</th><td>${escaped(aim + side)}</td>${cells.join('')}</tr>`;
}

/** Distinguishes plans in the browser's store (FNV-1a, 32 bits). */
function digest(plan: PlanFile): string {
  let hash = 0x811c9dc5;
  for (const c of JSON.stringify(plan.touches)) {
    hash = Math.imul(hash ^ c.codePointAt(0)!, 0x01000193) >>> 0;
  }
  return hash.toString(16);
}

const escaped = (text: string): string =>
  text.replace(/[&<>"]/g, (c) => ({ '&': '&amp;', '<': '&lt;', '>': '&gt;', '"': '&quot;' })[c]!);

/** Colours have a contrast of at least 4.5 to 1 on their ground, light and dark (WCAG 2.2, 1.4.3). */
const FORM_STYLE = `
:root { --ground: #fdfdfb; --ink: #1d1d1b; --soft: #5c5c58; --rule: #8a8a84; --bad: #b3261e; }
@media (prefers-color-scheme: dark) {
  :root { --ground: #1c1d20; --ink: #f0efea; --soft: #a9a9a2; --rule: #77776f; --bad: #ff8a80; }
}
body { margin: 0 auto; max-width: 60rem; padding: 1rem; background: var(--ground); color: var(--ink); font: 16px/1.4 system-ui, sans-serif; }
h1 { font-size: 1.3rem; }
p, label { color: var(--soft); }
textarea, input { font: inherit; color: inherit; background: transparent; border: 1px solid var(--rule); border-radius: 4px; box-sizing: border-box; }
textarea { display: block; width: 100%; margin: 0.5rem 0; }
input { width: 7.5rem; padding: 0.5rem; min-height: 2.75rem; }
input::placeholder { color: var(--soft); }
input[aria-invalid='true'] { border: 2px solid var(--bad); }
button { font: inherit; padding: 0.6rem 1rem; min-height: 2.75rem; border: 1px solid var(--rule); border-radius: 4px; background: transparent; color: inherit; cursor: pointer; }
:focus-visible { outline: 3px solid #0072b2; outline-offset: 2px; }
.bar { position: sticky; top: 0; z-index: 2; display: flex; flex-wrap: wrap; gap: 0.5rem; align-items: center; background: var(--ground); padding: 0.5rem 0; }
.bar p { flex: 1 1 14rem; margin: 0; }
.scroller { overflow-x: auto; }
table { border-collapse: collapse; width: 100%; }
th, td { padding: 0.25rem 0.5rem; text-align: left; border-bottom: 1px solid var(--rule); font-weight: 400; }
`;
