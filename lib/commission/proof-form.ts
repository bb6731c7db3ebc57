/**
 * A page on which is entered what was seen of a proof: one file of HTML that needs no network. It keeps what was
 * entered in the browser and hands it back as the CSV that is judged. It does not say what should be seen, so that
 * nobody enters what they expect.
 */
import { SEEN_COLUMNS, seenRows } from './proof-files.js';
import type { ProofPlan } from './proof-plan.js';
import { PROOF_SCRIPT } from './proof-form-script.js';
import { entryBar, entryPage } from '../base/entry-page.js';
import { escapeHtml } from '../base/page-text.js';
import { NOTHING_SEEN, SIGHTS } from './seen.js';

/**
 * The page on which is entered what was seen of a proof, and from which `seen.csv` is saved.
 * @returns one file of HTML that needs no network
 */
export function proofForm(plan: ProofPlan): string {
  const title = `First motion of ${plan.machine.name}: what was seen`;
  const rows = seenRows(plan);
  const data = {
    key: `proof ${plan.machine.name} ${rows.map((r) => r.what).join(' ')}`,
    columns: SEEN_COLUMNS,
  };
  return entryPage({
    title,
    style: PROOF_STYLE,
    intro:
      '<p>Stand on the side of Y- and look towards Y+, X+ on your right. Enter what you see, not what you expect. Nozzle and table cold, hands out of the machine before each step, a hand on the emergency stop.</p>',
    main: `${entryBar('seen.csv')}
<h2>steps.ngc: one joint at a time</h2>
<ol class="rows" id="steps">
${rows.slice(0, plan.steps.length).map(stepRow).join('\n')}
</ol>
${posesPart(rows.slice(plan.steps.length))}`,
    data,
    script: PROOF_SCRIPT,
  });
}

const posesPart = (rows: readonly FormRow[]): string =>
  rows.length === 0
    ? ''
    : `<h2>poses.ngc: only if every step was right</h2>
<p>Where the tip stands over the cross on the table: along its arms towards X+ and Y+, and square to the face, mm.</p>
<ol class="rows" id="poses">
${rows.map(poseRow).join('\n')}
</ol>`;

type FormRow = ReturnType<typeof seenRows>[number];

const SEEN_CHOICES = [NOTHING_SEEN, ...SIGHTS.map((s) => s.words)];

const stepRow = ({ row, what }: FormRow): string =>
  `<li data-row="${row}" data-what="${escapeHtml(what)}"><span>${escapeHtml(`${row}: ${what}`)}</span><select aria-label="what was seen at ${row}"><option value="">not seen yet</option>${SEEN_CHOICES.map((c) => `<option>${escapeHtml(c)}</option>`).join('')}</select></li>`;

const poseRow = ({ row, what }: FormRow): string =>
  `<li data-row="${row}" data-what="${escapeHtml(what)}"><span>${escapeHtml(`${row}: ${what}`)}</span><span class="place">${[
    'x',
    'y',
    'z',
  ]
    .map(
      (c) =>
        `<label>${c} <input inputmode="decimal" autocomplete="off" aria-label="${c} of the tip at ${row}, mm"> mm</label>`,
    )
    .join('')}</span></li>`;

const PROOF_STYLE = `
h2 { font-size: 1.05rem; margin: 1.5rem 0 0.5rem; }
.rows { list-style: none; margin: 0; padding: 0; }
.rows li { display: flex; flex-wrap: wrap; gap: 0.25rem 1rem; align-items: center; padding: 0.5rem 0; border-bottom: 1px solid var(--rule); }
.rows li > span:first-child { flex: 1 1 14rem; }
.place { display: flex; flex-wrap: wrap; gap: 0.5rem 1rem; }
select, input { font: inherit; color: inherit; background: var(--ground); border: 1px solid var(--rule); border-radius: 4px; box-sizing: border-box; min-height: 2.75rem; padding: 0.5rem; max-width: 100%; }
input { width: 5.5rem; }
input[aria-invalid='true'] { border: 2px solid var(--bad); }
`;
