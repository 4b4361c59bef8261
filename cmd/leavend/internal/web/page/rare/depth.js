// Measuring how deep a jar is, while leavend runs: its own readings since the jar
// was emptied tell where the bottom is.

import { ask, h, say } from '../dom.js';
import { t } from '../text.js';
import { now } from '../times.js';
import { put, read, vesselPath } from '../api.js';

const ENOUGH = 5; // readings
const STILL = 4; // mm between them: more is worth a look

// measureDepth asks for the empty jar, and keeps what is measured.
export async function measureDepth(v, app) {
  const said = h('p', { role: 'status' });
  const measure = h('button', { type: 'button', onclick: begin }, t('depth.measure'));
  const keep = h('button', { class: 'strong', value: 'yes', disabled: true }, t('common.save'));
  const title = t('household.measure_of', { name: v.name });
  const dialog = h('dialog', { 'aria-label': title }, h('form', { method: 'dialog' }, h('h2', {}, title), h('p', {}, t('depth.text')),
    h('p', { class: 'hint' }, t('household.measure_hint'), ' ', t('reach.restarts')), said,
    h('div', { class: 'row' }, measure, keep, h('button', { value: '' }, t('common.cancel')))));
  let floor = null;

  async function begin() {
    measure.disabled = true;
    const since = encodeURIComponent(new Date(now()).toISOString());
    while (dialog.open) {
      const got = await app.change(() => read(vesselPath(v.id, `depth?since=${since}`)));
      if (!got) break;
      say(said, t('household.measuring', { n: got.taken, of: ENOUGH }));
      if (got.taken >= ENOUGH) {
        floor = got.value;
        say(said, t(got.spread > STILL ? 'depth.shaky' : 'depth.measured', { depth: got.value, spread: got.spread }));
        keep.disabled = false;
        break;
      }
      await new Promise((r) => setTimeout(r, 2000));
    }
    measure.disabled = false;
  }

  if ((await ask(dialog)) !== 'yes' || floor === null) return;
  if (await app.change(() => put(vesselPath(v.id, 'floor'), { floor_mm: floor }).then(() => true))) app.announce(t('reach.done'));
}
