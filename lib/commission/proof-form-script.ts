/** What the page of a proof does, as text for its script element: plain code of browsers, no library. */
export const PROOF_SCRIPT = `
'use strict';
const { key, columns } = JSON.parse(document.getElementById('data').textContent);
const rows = [...document.querySelectorAll('.rows li')].map((li) => ({
  row: li.dataset.row,
  what: li.dataset.what,
  fields: [...li.querySelectorAll('select, input')],
  isStep: li.querySelector('select') !== null,
}));
const fields = rows.flatMap((r) => r.fields);
const NUMBER = /^[+-]?(\\d+[.,]?\\d*|[.,]\\d+)$/;
const state = document.getElementById('state');
const filled = (r) => r.fields.every((f) => r.isStep ? f.value !== '' : NUMBER.test(f.value.trim()));

function look() {
  let bad = 0;
  for (const r of rows) {
    if (r.isStep) continue;
    for (const f of r.fields) {
      const wrong = f.value.trim() !== '' && !NUMBER.test(f.value.trim());
      f.setAttribute('aria-invalid', String(wrong));
      if (wrong) bad++;
    }
  }
  const steps = rows.filter((r) => r.isStep);
  const poses = rows.filter((r) => !r.isStep);
  state.textContent = steps.filter(filled).length + ' of ' + steps.length + ' steps'
    + (poses.length ? ' and ' + poses.filter(filled).length + ' of ' + poses.length + ' poses' : '') + ' entered'
    + (bad ? '; ' + bad + (bad === 1 ? ' field holds' : ' fields hold') + ' no number' : '');
}

function keep() {
  localStorage.setItem(key, JSON.stringify(fields.map((f) => f.value)));
  look();
}

function csv() {
  const lines = rows.map((r) => {
    const values = r.fields.map((f) => f.value.trim());
    const cells = r.isStep ? [values[0], '', '', ''] : ['', ...values.map((v) => v.replace(',', '.'))];
    return [r.row, r.what, ...cells].join(',');
  });
  return [columns.join(','), ...lines].join('\\n') + '\\n';
}

document.querySelector('main').addEventListener('input', keep);
document.getElementById('clear').addEventListener('click', () => {
  if (!confirm('Clear all that was entered?')) return;
  for (const f of fields) f.value = '';
  keep();
});
document.getElementById('save').addEventListener('click', () => {
  const link = document.createElement('a');
  link.href = URL.createObjectURL(new Blob([csv()], { type: 'text/csv' }));
  link.download = 'seen.csv';
  link.click();
  URL.revokeObjectURL(link.href);
});
const kept = JSON.parse(localStorage.getItem(key) || '[]');
fields.forEach((f, i) => { f.value = kept[i] || ''; });
look();
`;
