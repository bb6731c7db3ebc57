/**
 * A page on which something is entered: one file of HTML that needs no network, with its data and the script that keeps
 * what was entered.
 */
import { escapeHtml, jsonForScript } from './page-text.js';

export interface EntryPage {
  readonly title: string;
  /** Of the page alone, after what all such pages share. */
  readonly style: string;
  /** HTML under the title, and of the page itself. */
  readonly intro: string;
  readonly main: string;
  readonly data: unknown;
  readonly script: string;
}

export const entryPage = ({ title, style, intro, main, data, script }: EntryPage): string =>
  `<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; script-src 'unsafe-inline'; style-src 'unsafe-inline'; img-src data:">
<title>${escapeHtml(title)}</title>
<link rel="icon" href="data:,">
<style>${ENTRY_STYLE}${style}</style>
</head>
<body>
<header>
<h1>${escapeHtml(title)}</h1>
${intro}
</header>
<main>
${main}
</main>
<script type="application/json" id="data">${jsonForScript(data)}</script>
<script>${script}</script>
</body>
</html>
`;

/** The line that says what is missing, and the buttons beside it. */
export const entryBar = (file: string): string => `<div class="bar">
<p id="state" role="status"></p>
<button type="button" id="save">Save ${file}</button>
<button type="button" id="clear">Clear all</button>
</div>`;

/** Colours have a contrast of at least 4.5 to 1 on their ground, light and dark (WCAG 2.2, 1.4.3). */
const ENTRY_STYLE = `
:root { --ground: #fdfdfb; --ink: #1d1d1b; --soft: #5c5c58; --rule: #8a8a84; --bad: #b3261e; }
@media (prefers-color-scheme: dark) {
  :root { --ground: #1c1d20; --ink: #f0efea; --soft: #a9a9a2; --rule: #77776f; --bad: #ff8a80; }
}
body { margin: 0 auto; max-width: 60rem; padding: 1rem; background: var(--ground); color: var(--ink); font: 16px/1.4 system-ui, sans-serif; }
h1 { font-size: 1.3rem; }
p { color: var(--soft); }
button { font: inherit; padding: 0.6rem 1rem; min-height: 2.75rem; border: 1px solid var(--rule); border-radius: 4px; background: transparent; color: inherit; cursor: pointer; }
:focus-visible { outline: 3px solid #0072b2; outline-offset: 2px; }
.bar { position: sticky; top: 0; z-index: 2; display: flex; flex-wrap: wrap; gap: 0.5rem; align-items: center; background: var(--ground); padding: 0.5rem 0; }
.bar p { flex: 1 1 14rem; margin: 0; }
`;
