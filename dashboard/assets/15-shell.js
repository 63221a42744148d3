// The one line of what is due or wrong, on every page: a page without a cook of its own asks for it while it is seen.
(() => {
  "use strict";
  const words = window.kettlesideWords;
  const { ask, again } = window.kettlesideAsk;
  const EVERY_MS = 5000;

  // look: headline, next_due and alarm as the server has them. Gives the kind (danger, stir or check) and the words,
  // null where nothing is due or wrong.
  function matter(look, now) {
    if (look.headline) return { kind: "danger", text: `${look.headline[0]} since ${words.at(look.headline[1])}` };
    const [kind, when] = look.next_due || [];
    if (kind && words.isClose(when - now)) return { kind, text: words.late(kind, when, now) };
    if (look.alarm && look.alarm.endsWith(" due")) return { kind: "timer", text: words.capital(look.alarm) };
    return look.alarm ? { kind: "danger", text: words.capital(look.alarm) } : null;
  }

  const props = (found, href) => ({ children: found ? found.text : "", hidden: !found, className: found ? found.kind : "", href });

  function poll(line) {
    let look = {};
    let heard = performance.now();
    function draw() {
      const found = matter(look, look.time + ((performance.now() - heard) / 1000) * look.rate);
      const { children, ...rest } = props(found, `/?cook=${encodeURIComponent(look.cook || "")}`);
      if (line.textContent !== children) line.textContent = children;
      Object.assign(line, rest);
      document.body.toggleAttribute("data-alert-line", !line.hidden);
    }
    again(async (signal, limit) => {
      look = await ask("/due", { signal, limit });
      heard = performance.now();
      draw();
    }, { pause: () => EVERY_MS })();
    setInterval(() => { if (!document.hidden) draw(); }, 1000);
  }

  window.kettlesideShell = { matter, props };
  function begin() {
    const line = document.querySelector(".shell #alert-line");
    if (line) poll(line);
  }
  // Dash's pages run this before the page is there.
  if (document.readyState === "loading") document.addEventListener("DOMContentLoaded", begin);
  else begin();
})();
