/**
 * A page on which the readings of a plan are entered or pasted: one file of HTML that needs no network. It
 * keeps what was entered in the browser and hands it back as the CSV that the fit reads.
 */
import { entryBar, entryPage } from '../base/entry-page.js';
import { escapeHtml } from '../base/page-text.js';
import type { Machine } from '../machine/machine.js';
import { type PlanFile, columnsOf } from './touch-files.js';
import { SCRIPT } from './form-script.js';

type PlannedTouch = PlanFile['touches'][number];

export function formPage(machine: Machine, plan: PlanFile): string {
  const columns = columnsOf(machine);
  const title = `Readings: ${plan.touches.length} touches on ${plan.machine}`;
  const data = { key: `readings ${plan.machine} ${digest(plan)}`, columns };
  return entryPage({
    title,
    style: FORM_STYLE,
    intro:
      '<p>Enter the joint values that the controller shows at each touch, mm. Enter goes on to the next field. Before the next touch: hands out of the machine, a hand on the stop.</p>',
    main: `<details>
<summary>Paste from a spreadsheet</summary>
<label for="paste">Rows as in readings.csv, or only the columns that are asked for here, from the first empty row on</label>
<textarea id="paste" rows="5" spellcheck="false"></textarea>
<button type="button" id="take">Take over</button>
</details>
${entryBar('readings.csv')}
<div class="scroller" tabindex="0" role="region" aria-label="readings">
<table>
<thead><tr>${columns.map((c) => `<th scope="col">${escapeHtml(c)}</th>`).join('')}</tr></thead>
<tbody>
${plan.touches.map((touch) => rowOf(machine, touch)).join('\n')}
</tbody>
</table>
</div>`,
    data,
    script: SCRIPT,
  });
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
  return `<tr data-touch="${touch}" data-aim="${aim}"><th scope="row">${touch}</th><td>${escapeHtml(aim + side)}</td>${cells.join('')}</tr>`;
}

/** Distinguishes plans in the browser's store (FNV-1a, 32 bits). */
function digest(plan: PlanFile): string {
  let hash = 0x811c9dc5;
  for (const c of JSON.stringify(plan.touches)) {
    hash = Math.imul(hash ^ c.codePointAt(0)!, 0x01000193) >>> 0;
  }
  return hash.toString(16);
}

const FORM_STYLE = `
label { color: var(--soft); }
textarea, input { font: inherit; color: inherit; background: transparent; border: 1px solid var(--rule); border-radius: 4px; box-sizing: border-box; }
textarea { display: block; width: 100%; margin: 0.5rem 0; }
input { width: 7.5rem; padding: 0.5rem; min-height: 2.75rem; }
input::placeholder { color: var(--soft); }
input[aria-invalid='true'] { border: 2px solid var(--bad); }
.scroller { overflow-x: auto; }
table { border-collapse: collapse; width: 100%; }
th, td { padding: 0.25rem 0.5rem; text-align: left; border-bottom: 1px solid var(--rule); font-weight: 400; }
`;
