/**
 * A page on which is entered what was seen of a proof: one file of HTML that needs no network. It keeps what was
 * entered in the browser and hands it back as the CSV that is judged. It does not say what should be seen, so that
 * nobody enters what they expect.
 */
import { SEEN_COLUMNS, seenRows } from './proof-files.js';
import type { ProofPlan } from './proof-plan.js';
import { PROOF_SCRIPT } from './proof-form-script.js';
import { escapeHtml, jsonForScript } from './page-text.js';
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
  return `<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; script-src 'unsafe-inline'; style-src 'unsafe-inline'; img-src data:">
<title>${escapeHtml(title)}</title>
<link rel="icon" href="data:,">
<style>${PROOF_STYLE}</style>
</head>
<body>
<header>
<h1>${escapeHtml(title)}</h1>
<p>Stand on the side of Y- and look towards Y+, X+ on your right. Enter what you see, not what you expect. Nozzle and table cold, hands out of the machine before each step, a hand on the emergency stop.</p>
</header>
<main>
<div class="bar">
<p id="state" role="status"></p>
<button type="button" id="save">Save seen.csv</button>
<button type="button" id="clear">Clear all</button>
</div>
<h2>steps.ngc: one joint at a time</h2>
<ol class="rows" id="steps">
${rows.slice(0, plan.steps.length).map(stepRow).join('\n')}
</ol>
${posesPart(rows.slice(plan.steps.length))}
</main>
<script type="application/json" id="data">${jsonForScript(data)}</script>
<script>${PROOF_SCRIPT}</script>
</body>
</html>
`;
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

/** Colours have a contrast of at least 4.5 to 1 on their ground, light and dark (WCAG 2.2, 1.4.3). */
const PROOF_STYLE = `
:root { --ground: #fdfdfb; --ink: #1d1d1b; --soft: #5c5c58; --rule: #8a8a84; --bad: #b3261e; }
@media (prefers-color-scheme: dark) {
  :root { --ground: #1c1d20; --ink: #f0efea; --soft: #a9a9a2; --rule: #77776f; --bad: #ff8a80; }
}
body { margin: 0 auto; max-width: 60rem; padding: 1rem; background: var(--ground); color: var(--ink); font: 16px/1.4 system-ui, sans-serif; }
h1 { font-size: 1.3rem; }
h2 { font-size: 1.05rem; margin: 1.5rem 0 0.5rem; }
p { color: var(--soft); }
.rows { list-style: none; margin: 0; padding: 0; }
.rows li { display: flex; flex-wrap: wrap; gap: 0.25rem 1rem; align-items: center; padding: 0.5rem 0; border-bottom: 1px solid var(--rule); }
.rows li > span:first-child { flex: 1 1 14rem; }
.place { display: flex; flex-wrap: wrap; gap: 0.5rem 1rem; }
select, input { font: inherit; color: inherit; background: var(--ground); border: 1px solid var(--rule); border-radius: 4px; box-sizing: border-box; min-height: 2.75rem; padding: 0.5rem; max-width: 100%; }
input { width: 5.5rem; }
input[aria-invalid='true'] { border: 2px solid var(--bad); }
button { font: inherit; padding: 0.6rem 1rem; min-height: 2.75rem; border: 1px solid var(--rule); border-radius: 4px; background: transparent; color: inherit; cursor: pointer; }
:focus-visible { outline: 3px solid #0072b2; outline-offset: 2px; }
.bar { position: sticky; top: 0; z-index: 2; display: flex; flex-wrap: wrap; gap: 0.5rem; align-items: center; background: var(--ground); padding: 0.5rem 0; }
.bar p { flex: 1 1 14rem; margin: 0; }
`;
