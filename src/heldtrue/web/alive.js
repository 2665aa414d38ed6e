// Is the server still there? A page says so in its own words when not, and an answer (.needs-server) is shown only while the server has said within the last second that it still stands. What is typed meanwhile is kept in this browser.
(() => {
  const root = document.documentElement, EVERY = 300, LATE = 900, OPENING = 5000;
  // Two clocks: one of them stands still while some devices sleep, the other may be set.
  const clocks = () => [performance.now(), Date.now()];
  let number = 0, asked = new Map(), sent = -Infinity, heard = clocks(), opened = clocks(), ever = false;
  const watched = () => document.querySelector('.needs-server');
  const connected = () => Boolean(window.socket?.connected && window.did_handshake);
  const age = since => Math.max(...clocks().map((now, at) => Math.abs(now - since[at])));
  const isLost = () => !ever ? age(opened) > OPENING
    : watched() ? !heard || age(heard) > LATE || document.hidden : window.did_handshake && !connected();
  const show = () => {
    const lost = isLost();
    if (lost !== ('lost' in root.dataset)) lost ? (root.dataset.lost = '') : delete root.dataset.lost;
  };
  const beat = () => {
    if (connected() && !ever) { ever = true; heard = clocks(); setTimeout(putBack, 300); }
    if (connected() && !('lost' in root.dataset)) choices();
    if (watched() && connected() && !document.hidden && performance.now() - sent >= EVERY) {
      sent = performance.now();
      asked.set(++number, clocks());
      asked.delete(number - 20);
      emitEvent('still-there', number);
    }
    show();
  };
  // An answer counts from when it was asked for: one that was on its way for long is an old one.
  window.stillThere = which => {
    if (!asked.has(which)) return;
    heard = asked.get(which);
    asked.forEach((_, one) => { if (one <= which) asked.delete(one); });
    show();
  };
  // What is typed or chosen without the server is lost where the page is loaded anew: it is put back then. The fields of a plan keep their own (box.js); their choices are handed over with the state they were made over.
  const kept = name => { try { return JSON.parse(sessionStorage.getItem(name + location.pathname)) || {}; } catch { return {}; } };
  const keep = (name, all) => { try { sessionStorage.setItem(name + location.pathname, JSON.stringify(all)); } catch { /* no room */ } };
  const without = () => 'lost' in root.dataset || !connected();
  document.addEventListener('input', event => {
    const label = event.target.getAttribute('aria-label');
    if (label && without() && !event.target.closest('.field')) keep('offline ', {...kept('offline '), [label]: event.target.value});
  }, true);
  function putBack() {
    const values = kept('offline ');
    keep('offline ', {});
    for (const [label, value] of Object.entries(values)) {
      const there = [...document.querySelectorAll('input, textarea')].find(one => one.getAttribute('aria-label') === label);
      if (!there || there.value === value) continue;
      Object.getOwnPropertyDescriptor(Object.getPrototypeOf(there), 'value').set.call(there, value);
      there.dispatchEvent(new Event('input', {bubbles: true}));
    }
  }
  window.keepChoice = (id, chosen) => {
    if (!without()) return;
    const {place, version} = mounted_app.elements[id].props;
    keep('chosen ', {...kept('chosen '), [place]: [chosen?.label ?? '', kept('chosen ')[place]?.[1] ?? version]});
  };
  // They are told until the server says that it has them: a socket may be there for a moment before the page is loaded anew.
  let toldAt = -Infinity;
  function choices() {
    const made = kept('chosen ');
    if (!Object.keys(made).length || performance.now() - toldAt < 1000) return;
    toldAt = performance.now();
    emitEvent('choices-kept', made);
  }
  window.choicesTaken = paths => {
    const made = kept('chosen ');
    paths.forEach(path => delete made[path]);
    keep('chosen ', made);
  };
  setInterval(beat, 100);
  document.addEventListener('visibilitychange', () => { if (document.hidden) heard = null; beat(); });
  addEventListener('pageshow', event => { if (event.persisted) location.reload(); });
})();
