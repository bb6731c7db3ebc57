/** The page's style: two columns where there is room, one on a phone; light and dark. */
export const style = `:root {
  color-scheme: light dark;
  --ground: #f6f5f1; --sheet: #ffffff; --ink: #1d2327; --faint: #57606a; --line: #c3c8cc;
  --deed: #00597f; --deed-ink: #ffffff; --good: #1b6b3a; --bad: #a3261f; --busy: #8a5300;
}
@media (prefers-color-scheme: dark) {
  :root {
    --ground: #14181b; --sheet: #1e2428; --ink: #e8eaeb; --faint: #a5afb6; --line: #46525a;
    --deed: #7cc7ee; --deed-ink: #10181d; --good: #7fd8a0; --bad: #ff9d92; --busy: #f2bd6b;
  }
}
* { box-sizing: border-box; }
[hidden] { display: none !important; }
body { margin: 0; background: var(--ground); color: var(--ink); font: 1rem/1.5 system-ui, sans-serif; }
header { display: flex; flex-wrap: wrap; gap: 0 1.5rem; align-items: baseline; padding: .75rem 1.25rem; border-bottom: 1px solid var(--line); background: var(--sheet); }
h1, h2, h3, p { margin: 0; }
h1 { font-size: 1.25rem; letter-spacing: .02em; }
h2 { font-size: 1.15rem; margin-bottom: .75rem; overflow-wrap: anywhere; }
h3 { font-size: 1rem; margin-top: .5rem; }
#order-about:empty { display: none; }
#part { display: grid; gap: .4rem; } #part:empty { display: none; }
#add-answer { margin-top: .75rem; display: grid; gap: .4rem; } #add-answer:empty { margin: 0; }
#health, .hint { color: var(--faint); font-size: .9rem; }
main { display: grid; gap: 1.25rem; padding: 1.25rem; max-width: 84rem; margin: auto; grid-template-columns: minmax(0, 1fr) minmax(0, 1fr); grid-template-areas: "job job" "order jobs"; align-items: start; }
.order { grid-area: order; } .jobs { grid-area: jobs; } .job { grid-area: job; }
section { background: var(--sheet); border: 1px solid var(--line); border-radius: .5rem; padding: 1.25rem; min-width: 0; }
form, #settings, .job { display: grid; gap: .75rem; }
label { display: block; font-weight: 600; font-size: .95rem; }
input, select, button { font: inherit; color: inherit; min-height: 2.75rem; }
input, select { width: 100%; padding: .4rem .6rem; background: var(--ground); border: 1px solid var(--faint); border-radius: .35rem; }
input[type=checkbox] { width: 1.25rem; min-height: 1.25rem; vertical-align: middle; }
::placeholder { color: var(--faint); opacity: 1; }
button, .button { display: inline-block; padding: .5rem 1.1rem; border: 1px solid var(--deed); border-radius: .35rem; background: var(--sheet); color: var(--deed); font-weight: 600; text-decoration: none; cursor: pointer; }
button[type=submit], .button.main { background: var(--deed); color: var(--deed-ink); }
button:disabled { opacity: .6; cursor: default; }
a { color: var(--deed); }
:focus-visible { outline: 3px solid var(--deed); outline-offset: 2px; }
.skip { position: absolute; left: -99rem; }
.skip:focus { left: .5rem; top: .5rem; background: var(--sheet); padding: .5rem; z-index: 1; }
.pair { display: grid; align-items: start; gap: .75rem; grid-template-columns: repeat(auto-fit, minmax(min(12rem, 100%), 1fr)); }
#machine-page { display: inline-block; padding: .5rem 0; overflow-wrap: anywhere; }
.drop { border: 2px dashed var(--faint); border-radius: .5rem; padding: 1rem; display: grid; gap: .5rem; }
.drop.over { border-color: var(--deed); border-style: solid; }
progress { width: 100%; height: 1rem; accent-color: var(--deed); }
details { border: 1px solid var(--line); border-radius: .35rem; padding: 0 .75rem; }
details[open] { padding-bottom: .75rem; }
summary { padding: .6rem 0; font-weight: 600; cursor: pointer; }
summary span { font-weight: 400; color: var(--faint); }
.fields { display: grid; gap: .75rem; grid-template-columns: repeat(auto-fill, minmax(min(13rem, 100%), 1fr)); align-items: end; }
.fields .hint { line-height: 1.3; }
ul { list-style: none; margin: .75rem 0; padding: 0; display: grid; gap: .5rem; }
#list a { display: grid; grid-template-columns: auto 1fr auto; gap: 0 .75rem; padding: .6rem .75rem; border: 1px solid var(--line); border-radius: .35rem; text-decoration: none; color: inherit; }
#list a[aria-current] { border-color: var(--deed); box-shadow: inset 3px 0 0 var(--deed); }
#list .name { overflow-wrap: anywhere; font-weight: 600; }
#list .more { grid-column: 1 / -1; color: var(--faint); font-size: .9rem; overflow-wrap: anywhere; }
.state { font-weight: 600; }
.finished { color: var(--good); } .failed, .cancelled, .problem { color: var(--bad); } .running, .warning { color: var(--busy); }
#job-answer:empty { display: none; }
.actions { display: flex; flex-wrap: wrap; gap: .75rem; }
dl { display: grid; grid-template-columns: repeat(auto-fit, minmax(11rem, 1fr)); gap: .5rem 1.25rem; margin: 0; }
dt { color: var(--faint); font-size: .9rem; } dd { margin: 0; font-weight: 600; overflow-wrap: anywhere; }
.pictures { display: grid; gap: .75rem; grid-template-columns: minmax(0, 2fr) minmax(0, 1fr); align-items: start; }
.pictures img { width: 100%; height: auto; background: #fff; border-radius: .35rem; border: 1px solid var(--line); }
.findings { gap: .25rem; margin: 0; } .findings li { overflow-wrap: anywhere; }
.files { display: flex; flex-wrap: wrap; gap: .25rem 1.25rem; margin: 0; }
.files a { display: inline-block; padding: .5rem 0; }
dialog { color: inherit; background: var(--sheet); border: 1px solid var(--line); border-radius: .5rem; padding: 1.25rem; width: min(26rem, 92vw); }
@media (max-width: 52rem) {
  main { grid-template-columns: minmax(0, 1fr); grid-template-areas: "job" "order" "jobs"; padding: .75rem; }
  section { padding: 1rem; }
  .pictures { grid-template-columns: minmax(0, 1fr); }
}
@media print { .order, .jobs, .actions, #health { display: none; } main { display: block; } }
`;
