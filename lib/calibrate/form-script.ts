/** What the page of readings does, as text for its script element: plain code of browsers, no library. */
export const SCRIPT = `
'use strict';
const { key, columns } = JSON.parse(document.getElementById('data').textContent);
const rows = [...document.querySelectorAll('tbody tr')].map((tr) => ({
  touch: tr.dataset.touch,
  aim: tr.dataset.aim,
  inputs: [...tr.querySelectorAll('input')],
  cells: [...tr.cells],
}));
const inputs = rows.flatMap((r) => r.inputs);
const NUMBER = /^[+-]?(\\d+[.,]?\\d*|[.,]\\d+)$/;
const state = document.getElementById('state');

function look() {
  for (const input of inputs) {
    const text = input.value.trim();
    input.setAttribute('aria-invalid', String(text !== '' && !NUMBER.test(text)));
  }
  const bad = inputs.filter((i) => i.getAttribute('aria-invalid') === 'true').length;
  const full = rows.filter((r) => r.inputs.every((i) => NUMBER.test(i.value.trim()))).length;
  const half = rows.filter((r) => r.inputs.some((i) => i.value.trim()) && !r.inputs.every((i) => i.value.trim()));
  state.textContent = full + ' of ' + rows.length + ' touches entered'
    + (bad ? '; ' + bad + ' fields hold no number' : '')
    + (half.length ? '; unfinished: ' + half.map((r) => r.touch).join(', ') : '');
}

function keep() {
  localStorage.setItem(key, JSON.stringify(inputs.map((i) => i.value)));
  look();
}

function csv() {
  const lines = rows.map((r) => {
    let next = 0;
    return r.cells.map((cell, c) => {
      if (c === 0) return r.touch;
      if (c === 1) return r.aim;
      const own = cell.querySelector('input') ? r.inputs[next++].value.trim().replace(',', '.') : cell.textContent;
      return own;
    }).join(',');
  });
  return [columns.join(','), ...lines].join('\\n') + '\\n';
}

function takeOver(text) {
  const mark = text.includes('\\t') ? '\\t' : text.includes(';') ? ';' : ',';
  const lines = text.split(/\\r?\\n/).filter((l) => l.trim() && !l.startsWith('touch'));
  const asked = rows[0].inputs.length;
  let at = rows.findIndex((r) => r.inputs.every((i) => !i.value.trim()));
  let taken = 0;
  const refused = [];
  lines.forEach((line, n) => {
    const cells = line.split(mark).map((c) => c.trim());
    const whole = cells.length === columns.length;
    const row = whole ? rows.find((r) => r.touch === cells[0]) : at >= 0 ? rows[at++] : undefined;
    if (!row || (!whole && cells.length !== asked)) {
      refused.push(n + 1);
      return;
    }
    const values = whole ? cells.filter((_, c) => row.cells[c].querySelector('input')) : cells;
    values.forEach((v, i) => { row.inputs[i].value = v; });
    taken++;
  });
  keep();
  state.textContent += '; ' + taken + ' rows taken over'
    + (refused.length ? ', not understood: rows ' + refused.join(', ') : '');
}

document.querySelector('tbody').addEventListener('input', keep);
document.querySelector('tbody').addEventListener('keydown', (event) => {
  if (event.key !== 'Enter') return;
  const next = inputs[inputs.indexOf(event.target) + 1];
  if (next) next.focus();
});
document.getElementById('take').addEventListener('click', () => takeOver(document.getElementById('paste').value));
document.getElementById('clear').addEventListener('click', () => {
  if (!confirm('Clear all readings?')) return;
  for (const input of inputs) input.value = '';
  keep();
});
document.getElementById('save').addEventListener('click', () => {
  const link = document.createElement('a');
  link.href = URL.createObjectURL(new Blob([csv()], { type: 'text/csv' }));
  link.download = 'readings.csv';
  link.click();
  URL.revokeObjectURL(link.href);
});
const kept = JSON.parse(localStorage.getItem(key) || '[]');
inputs.forEach((input, i) => { input.value = kept[i] || ''; });
look();
`;
