/**
 * The page that shows a machine: one file of HTML that needs no network. Its looks and behaviour come from a
 * template that the build makes of `page/client/machine`; here the content of the machine file is put into it.
 * The page reads and checks that content by the same code as every command, so that whoever makes pages, such as
 * a service with many machines, has nothing to work out.
 */
import { escapeHtml, jsonForScript } from '../base/page-text.js';

const SLOT = '<!--data-->';
const TITLE = '<!--title-->';

/**
 * The page that shows a machine and moves its joints: one file of HTML.
 * @param template what the build leaves as dist/page/machine.html; `readMachineTemplate` of `tiltwright/worker`
 *   reads it
 * @param name title of the page
 * @param content of the machine file, as JSON gives it; meshes must stand in it (`withMeshes`). What is not a
 *   machine file makes a page that says so.
 */
export function machinePage(template: string, name: string, content: unknown): string {
  const [before, after] = template.split(SLOT);
  if (after === undefined) throw new Error(`the template of the machine's page has no ${SLOT}`);
  return before!.replace(TITLE, () => escapeHtml(name)) + jsonForScript(content) + after;
}
