// Starts each page: the live one asks for what is new. Dash takes over once it is up.
(() => {
  "use strict";
  const words = window.kettlesideWords;
  const card = window.kettlesideCard;
  const curve = window.kettlesideCurve;
  const hand = window.kettlesideHand;
  const ring = window.kettlesideRing;

  function live(start) {
    let look = start.look;
    let heard = performance.now();
    let timer = null;
    let asking = null;
    let drawnCurve = performance.now();
    const pause = () => (look.rt > 1 ? 1000 : 2000);
    // Drawing the curve is most of what the page costs a phone, and in this time it grows by less than a line's width.
    const curvePause = () => (look.rt > 1 ? 0 : 30000);
    const cookNow = () => (look.fi === null ? look.t + ((performance.now() - heard) / 1000) * look.rt : look.t);
    const goneSeconds = () => {
      const silent = (performance.now() - heard) / 1000;
      return silent > 15 ? silent : 0;
    };

    function draw() {
      const headline = card.draw(look, cookNow(), goneSeconds(), look.fi === null);
      document.title = headline ? `${headline} · ${look.ti}` : look.ti;
      card.write("title", look.ti);
      hand.offer(look.fb, look.fi !== null);
      ring.look(look, goneSeconds());
    }

    async function ask() {
      clearTimeout(timer);
      if (asking) return;
      asking = new AbortController();
      try {
        const address = `/live?cook=${encodeURIComponent(start.cook)}&since=${look.n}`;
        const answer = await fetch(address, { signal: asking.signal });
        if (answer.status === 401) location.reload();
        if (answer.ok) {
          const change = await answer.json();
          const grown = curve.take(change);
          const other = ["ev", "ah", "or", "sp"].some((key) => change[key] !== undefined);
          look = { ...look, ...change };
          heard = performance.now();
          if (other || (grown && heard - drawnCurve >= curvePause())) {
            curve.redraw(look);
            drawnCurve = heard;
          }
        }
      } catch {
        // The page says so once the silence has lasted; the next turn asks again.
      }
      asking = null;
      draw();
      if (!document.hidden) timer = setTimeout(ask, pause());
    }

    // A phone that sleeps asks nothing; when it wakes it asks once for all it missed.
    document.addEventListener("visibilitychange", () => {
      clearTimeout(timer);
      if (!document.hidden) ask();
    });
    setInterval(() => { if (!document.hidden) draw(); }, look.rt > 1 ? 250 : 1000);
    hand.begin(start.cook, ask);
    ring.begin(start.cook, look.rn, ask);
    draw();
    curve.begin(start.figure, () => look);
    timer = setTimeout(ask, pause());
    return draw;
  }

  // The list of running cooks: what is due at each, soonest told largest; another list is another page.
  function cookers(start) {
    let looks = start.cooks;
    let heard = performance.now();
    const names = (list) => list.map((look) => look.ck).join(" ");

    function draw() {
      const passed = (performance.now() - heard) / 1000;
      looks.forEach((look, number) => {
        const now = look.t + passed * look.rt;
        const due = look.du === null ? null : words.due(look.du[0], look.du[1], null, now);
        const nothing = look.wa ? "No stir yet" : look.sg === "clear" ? "It reads clear" : "Nothing due yet";
        card.write(`due-${number}`, look.hd ? look.hd[0] : due ? `${due.verb} ${due.amount}` : nothing);
        const done = look.cv === null ? "not started" : `converted ${words.converted([look.cv, look.cv, look.cv])[0].replace(" ", "\u00a0")}`;
        card.write(`state-${number}`, `${look.hd ? `Since ${words.at(look.hd[1])}; ` : due ? `${due.line}; ` : ""}paste ${words.paste(look.te)}, ${done}`);
        const more = look.wr.length > 1 ? ` And ${look.wr.length - 1} more.` : "";
        card.set(`wrong-${number}`, { children: look.wr.length ? `Look here: ${look.wr[0][0]}${more}` : "", hidden: !look.wr.length });
      });
      card.write("stale", `No answer from kettleside for ${words.span(passed)}; what stands here may be old.`);
      card.set("stale", { hidden: passed < 30 });
    }

    async function ask() {
      if (document.hidden) return;
      const answer = await fetch("/live-all").catch(() => null);
      if (answer && answer.status === 401) location.reload();
      if (answer && answer.ok) {
        const { cooks } = await answer.json();
        if (names(cooks) !== names(looks)) location.reload();
        looks = cooks;
        heard = performance.now();
      }
      draw();
    }
    setInterval(ask, looks.some((look) => look.rt > 1) ? 2000 : 5000);
    document.addEventListener("visibilitychange", ask);
    draw();
    return draw;
  }

  // An idle page turns into the live one as soon as a cook runs.
  function idle(start) {
    const ask = async () => {
      if (document.hidden) return;
      const address = start.rig ? `/live?rig=${encodeURIComponent(start.rig)}` : "/live";
      const answer = await fetch(address).catch(() => null);
      if (answer && answer.ok && !(await answer.json()).idle) location.reload();
    };
    setInterval(ask, 5000);
    document.addEventListener("visibilitychange", ask);
  }

  const pages = { now: live, cookers, idle, still: () => null };
  const start = JSON.parse(document.getElementById("first-look").textContent);
  const redraw = pages[start.page](start) || (() => {});

  // Puts Dash's page in the place of the one that came first, in one step.
  function takeOver() {
    const first = document.getElementById("first-paint");
    const place = document.getElementById("taken-over");
    if (!place.querySelector("main") || hand.busy()) return setTimeout(takeOver, 100);
    const focused = document.activeElement.id;
    first.remove();
    place.hidden = false;
    card.takeOver();
    if (document.getElementById("curve-place")) curve.place();
    redraw();
    if (focused) document.getElementById(focused)?.focus();
    document.documentElement.dataset.by = "dash";
    return null;
  }

  window.dash_clientside = window.dash_clientside || {};
  window.dash_clientside.kettleside = { takeOver: () => Boolean(takeOver()) };
})();
