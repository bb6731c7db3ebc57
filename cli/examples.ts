/** What the help of a command shows below its flags: how it is called, and what it ends with. */

/** By the words of the command; each without the name of the program. */
export const EXAMPLES: Readonly<Record<string, readonly string[]>> = {
  inspect: ['inspect hose-clip.stl', 'inspect scan.ply --unit inch --json'],
  slice: [
    'slice elbow.stl --machine cradle.json --material pla.json --out out/elbow',
    'slice --job job.json --layers-thickness 0.15 --threads 2',
  ],
  check: ['check out/elbow/program.ngc --machine cradle.json --part out/elbow/part.stl'],
  directions: ['directions elbow.stl manifold.3mf --machine cradle.json --out out/directions'],
  drives: ['drives job.json --out out/drives', 'drives program.ngc --machine cradle.json'],
  'machine new': [
    'machine new --out cradle.json',
    'machine new --answers answers.json --out cradle.json',
  ],
  'machine check': ['machine check cradle.json --part 60,60,40'],
  'machine show': ['machine show cradle.json --out cradle.html --picture cradle.svg'],
  'machine prove': ['machine prove cradle.json --out proof'],
  'machine judge': ['machine judge cradle.json --plan proof/plan.json --seen proof/seen.csv'],
  'calibrate plan': [
    'calibrate plan --machine cradle.json --ball 40,0,15,12 --out out/calibration',
  ],
  'calibrate play': ['calibrate play --machine cradle.json --out out/play'],
  'calibrate fit': [
    'calibrate fit --machine cradle.json --plan out/calibration/plan.json --readings readings.csv --out measured.json',
  ],
  'calibrate ring': ['calibrate ring heights.csv --radius 40'],
  'calibrate circle': ['calibrate circle marks.csv'],
  'calibrate three': ['calibrate three --at 30 --tilt 45 --heights 0.00,0.12,-0.05 --flat 1.0'],
  pieces: ['pieces --machine cradle.json --material pla.json --out out/pieces'],
  schema: ['schema job > job.schema.json'],
  completion: ['completion bash > ~/.local/share/bash-completion/completions/tiltwright'],
  guide: ['guide', 'guide machine-file', 'guide mesh/open-edges'],
  serve: ['serve --data jobs', 'serve --data jobs --host 0.0.0.0 --watch inbox'],
  submit: ['submit elbow.stl --machine table-table-ac --material pla --wait --out out/elbow'],
  jobs: ['jobs --state waiting,running', 'jobs 12 --json'],
  cancel: ['cancel 12', 'cancel 12 --remove'],
  fetch: ['fetch 12 --out out/elbow'],
  'token add': ['token add tablet --data jobs'],
  'token list': ['token list --data jobs'],
  'token remove': ['token remove tablet --data jobs'],
  'store backup': ['store backup /mnt/backup/jobs --data jobs'],
  'store restore': ['store restore /mnt/backup/jobs --data jobs-again'],
  'store doctor': ['store doctor --data jobs'],
};

const EXITS = `Exit codes:
  0    done
  1    the input was refused; each problem is a line with a code
  2    wrong usage
  3    done, with findings of severity error
  4    a defect of tiltwright
  5    the output could not be written to its end
  130  cancelled`;

/** @param path the words of the command, without the name of the program */
export function helpEnd(path: string): string {
  const lines = EXAMPLES[path]?.map((words) => `  tiltwright ${words}`) ?? [];
  const examples = lines.length === 0 ? '' : `\nExamples:\n${lines.join('\n')}\n`;
  return `${examples}\n${EXITS}\n\ntiltwright guide <code> says what a code means.`;
}
