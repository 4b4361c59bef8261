// What goes before everything else, within the document itself: the baker's own
// light, so that no page flashes up by day in a dark kitchen; and the script
// proper, once the first picture stands.

(() => {
  const root = document.documentElement;
  try {
    const { light } = JSON.parse(localStorage.getItem('leavend.taste')) || {};
    if (light === 'light' || light === 'dark') root.dataset.light = light;
  } catch { /* nothing is kept here, or nothing that can be read */ }

  // The sentences are asked for beside the script that needs them.
  window.sentences = fetch(`text/${root.lang}.json`);
  window.sentences.catch(() => {}); // the script asks again

  // The document shows the shelf; who comes for another screen shall not see it flit by.
  if (!/^(#\/(now)?)?$/.test(location.hash)) root.dataset.elsewhere = '';

  // A thumb may be quicker than the script: app.js does what was pressed so long.
  addEventListener('click', ({ target }) => {
    const button = target.closest('#frame button');
    if (button) button.dataset.pressed = '';
  });

  // A tab in the background paints nothing and need not wait.
  let begun = false;
  const begin = () => {
    if (!begun) import('./app.js');
    begun = true;
  };
  addEventListener('DOMContentLoaded', () => requestAnimationFrame(() => setTimeout(begin)));
  setTimeout(begin, 1500);
})();
