// Keeps the screen on while the page is seen, by the Wake Lock API (W3C), which browsers have for secure pages only.
(() => {
  "use strict";
  const card = window.kettlesideCard;
  const KEPT = "kettleside awake";
  const can = "wakeLock" in navigator;
  let wanted = false;
  let always = false;
  let lock = null;
  let refused = false;

  async function hold() {
    if (!can || !wanted || lock || document.hidden) return;
    try {
      lock = await navigator.wakeLock.request("screen");
      refused = false;
      // The browser lets go whenever the page is hidden.
      lock.addEventListener("release", () => { lock = null; });
    } catch {
      refused = true;
    }
    show();
  }

  function turn() {
    wanted = !wanted;
    try {
      localStorage.setItem(KEPT, wanted ? "1" : "");
    } catch {
      // Then it lasts as long as the page.
    }
    if (lock && !wanted) lock.release();
    hold();
    show();
  }

  // Where the page is not secure, the words that came with it say so and lead to what helps.
  function show() {
    card.set("awake", { children: `Screen stays on: ${wanted ? "yes" : "no"}`, hidden: !can || always });
    if (can || window.isSecureContext) {
      const words = !can ? "This browser has no way to keep the screen on." : refused && wanted ? "This phone will not keep its screen on now; its battery may be low." : "";
      card.set("awake-words", { children: words, hidden: !words });
    }
  }

  // everSince: for a page whose screen is to stay on without a tap.
  function begin(everSince) {
    always = everSince;
    try {
      wanted = always || localStorage.getItem(KEPT) === "1";
    } catch {
      wanted = always;
    }
    hold();
  }

  document.addEventListener("visibilitychange", hold);
  document.addEventListener("click", (event) => {
    if (event.target.closest("#awake")) turn();
  });

  window.kettlesideAwake = { begin, show };
})();
