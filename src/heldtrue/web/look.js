// Theme and text size, kept by this browser alone, and words that go along to the next page. Stands in the head, so that no page is first drawn in another look.
(() => {
  const root = document.documentElement, device = matchMedia('(prefers-color-scheme: dark)');
  const usual = {theme: 'light', text: 'normal'};
  const kept = name => { try { return localStorage.getItem('look-' + name) || usual[name]; } catch { return usual[name]; } };
  const put = () => {
    const theme = kept('theme');
    root.dataset.theme = theme === 'device' ? (device.matches ? 'dark' : 'light') : theme;
    root.dataset.text = kept('text');
  };
  const show = box => box.querySelectorAll('input').forEach(one => { one.checked = kept(one.name) === one.value; });
  const close = () => document.querySelectorAll('.look[open]').forEach(box => { box.open = false; });
  put();
  device.addEventListener('change', put);
  addEventListener('storage', put);
  document.addEventListener('toggle', event => { if (event.target.matches('.look')) show(event.target); }, true);
  document.addEventListener('change', event => {
    if (!event.target.closest('.look')) return;
    try { localStorage.setItem('look-' + event.target.name, event.target.value); } catch { /* kept for this page only */ }
    root.dataset[event.target.name] = event.target.value;
    put();
  });
  // What was said just before another page was opened: it could not be read there.
  addEventListener('load', () => {
    let said = [];
    try { said = JSON.parse(sessionStorage.getItem('said') || '[]'); sessionStorage.removeItem('said'); } catch { return; }
    const tell = () => document.getElementById('app')?.__vue_app__
      ? said.forEach(message => Quasar.Notify.create({message, position: 'top', timeout: 6000, actions: [{label: 'OK'}]}))
      : setTimeout(tell, 100);
    if (said.length) tell();
  });
  document.addEventListener('click', event => { if (!event.target.closest('.look')) close(); });
  document.addEventListener('keydown', event => {
    const open = event.key === 'Escape' && document.querySelector('.look[open]');
    if (open) { close(); open.querySelector('summary').focus(); }
  });
  // Pages scroll between their bars: keys that scroll do so also while nothing has the cursor.
  document.addEventListener('keydown', event => {
    const way = {PageDown: .9, PageUp: -.9, ArrowDown: .1, ArrowUp: -.1, End: 99, Home: -99}[event.key];
    const content = document.getElementById('content');
    if (way && content && document.activeElement === document.body) content.scrollBy(0, way * content.clientHeight);
  });
  // A tab is shown at once and by this browser alone, and stands in the address, so that a reload comes back to it.
  window.showTab = (id, key, name) => {
    const {elements} = mounted_app, tabs = elements[id];
    for (const one of [tabs, elements[tabs.props.panels]]) if (one) one.props['model-value'] = name;
    const address = new URL(location);
    address.searchParams.set(key, name);
    history.replaceState(history.state, '', address);
  };
})();
