// Every picture can be looked at over the whole screen: a click or Enter opens it, Escape or a click closes it.
// While it is open it follows the page: a picture that is replaced is replaced here too, an old one is paled or closed.
(() => {
  let dialog, shown;
  const figure = () => [...document.querySelectorAll("figure.picture")].find((one) => one.dataset.name === shown);
  function make() {
    dialog = document.createElement("dialog");
    dialog.className = "enlarged";
    dialog.innerHTML = '<form method="dialog"><strong></strong><button class="plain"></button></form><img alt="">';
    dialog.querySelector("img").addEventListener("click", () => dialog.close());
    document.body.append(dialog);
  }
  function follow() {
    if (!dialog.open) return;
    const now = figure();
    if (!now) { dialog.close(); return; }
    const from = now.querySelector("img"), to = dialog.querySelector("img");
    if (to.src !== from.src) to.src = from.src;
    to.alt = from.alt;
    dialog.classList.toggle("stale", !!now.closest(".stale, .soon-stale"));
    setTimeout(follow, 150);
  }
  function save(button) {
    const link = document.createElement("a");
    link.href = button.closest("figure, .picture-block").querySelector("img").src;
    link.download = button.dataset.file;
    link.click();
  }
  document.addEventListener("click", (event) => {
    const saving = event.target.closest && event.target.closest("button.save");
    if (saving) save(saving);
    const button = event.target.closest && event.target.closest("figure.picture button.enlarge");
    if (!button) return;
    if (!dialog || !dialog.isConnected) make();
    shown = button.closest("figure").dataset.name;
    dialog.querySelector("strong").textContent = shown;
    dialog.setAttribute("aria-label", shown);
    dialog.querySelector("button").textContent = button.dataset.close;
    dialog.showModal();
    follow();
  });
  // A page on paper says when it was printed.
  addEventListener("beforeprint", () => {
    document.querySelectorAll(".paper .date").forEach((one) => { one.textContent = new Date().toLocaleString("sv-SE").slice(0, 16); });
  });
})();
