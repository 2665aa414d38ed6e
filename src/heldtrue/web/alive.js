// Is the server still there? A page says so in its own words when not, and an answer that may start a spindle (.needs-server) is shown only while the server has said within the last second that it still stands.
(() => {
  const root = document.documentElement, EVERY = 300, LATE = 900;
  // Two clocks: one of them stands still while some devices sleep, the other may be set.
  const clocks = () => [performance.now(), Date.now()];
  let number = 0, asked = new Map(), sent = -Infinity, heard = clocks();
  const watched = () => document.querySelector('.needs-server');
  const connected = () => Boolean(window.socket?.connected && window.did_handshake);
  const age = since => Math.max(...clocks().map((now, at) => Math.abs(now - since[at])));
  const show = () => {
    const lost = watched() ? !heard || age(heard) > LATE || document.hidden : window.did_handshake && !connected();
    if (lost !== ('lost' in root.dataset)) lost ? (root.dataset.lost = '') : delete root.dataset.lost;
  };
  const beat = () => {
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
  setInterval(beat, 100);
  document.addEventListener('visibilitychange', () => { if (document.hidden) heard = null; beat(); });
  addEventListener('pageshow', event => { if (event.persisted) location.reload(); });
})();
