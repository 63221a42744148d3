// Starts each page: the live one asks for what is new, the replay asks for a moment.
(() => {
  "use strict";
  const words = window.kettlesideWords;
  const card = window.kettlesideCard;
  const curve = window.kettlesideCurve;
  const hand = window.kettlesideHand;

  function live(start) {
    let look = start.look;
    let heard = performance.now();
    let timer = null;
    let asking = null;
    const pause = () => (look.rt > 1 ? 1000 : 2000);
    const cookNow = () => (look.fi === null ? look.t + ((performance.now() - heard) / 1000) * look.rt : look.t);
    const goneSeconds = () => {
      const silent = (performance.now() - heard) / 1000;
      return silent > 15 ? silent : 0;
    };

    function draw() {
      const headline = card.draw(look, cookNow(), goneSeconds());
      document.title = headline ? `${headline} · ${look.ti}` : look.ti;
      card.write("title", look.ti);
      hand.offer(look.fb);
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
          const redraw = curve.take(change) || change.ev !== undefined || change.ah !== undefined;
          look = { ...look, ...change };
          heard = performance.now();
          if (redraw) curve.redraw(look);
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
    setInterval(() => { if (!document.hidden) draw(); }, 1000);
    curve.begin(start.figure, look);
    hand.begin(start.cook, ask);
    draw();
    timer = setTimeout(ask, pause());
  }

  function replay(start) {
    let look = start.look;
    let asking = false;
    let wanted = null;

    function draw() {
      card.draw(look, look.t, 0);
      card.write("as-of", `As it was known on ${words.onDay(look.t)}`);
      card.write("moment-label", `As it was known at ${words.at(look.t)}`);
    }

    async function go(moment) {
      wanted = moment;
      if (asking) return;
      asking = true;
      while (wanted !== null) {
        const next = wanted;
        wanted = null;
        try {
          const answer = await fetch(`/at?cook=${encodeURIComponent(start.cook)}&t=${next}`);
          if (answer.status === 401) location.reload();
          if (!answer.ok) throw new Error(await answer.text());
          look = await answer.json();
          curve.take(look);
          curve.redraw(look);
          draw();
        } catch (error) {
          card.write("as-of", error.message);
        }
      }
      asking = false;
    }

    const slider = () => document.getElementById("moment");
    document.addEventListener("input", (event) => {
      if (event.target.id === "moment") go(Number(event.target.value));
    });
    document.addEventListener("click", (event) => {
      const button = event.target.closest("[data-step]");
      if (!button) return;
      const forward = button.dataset.step === "1";
      const here = Number(slider().value);
      const others = start.look.moments.filter((moment) => (forward ? moment > here : moment < here));
      if (!others.length) return;
      const moment = forward ? others[0] : others[others.length - 1];
      slider().value = moment;
      go(moment);
    });
    curve.begin(start.figure, look);
    draw();
  }

  // An idle page turns into the live one as soon as a cook runs.
  function idle() {
    const ask = async () => {
      if (document.hidden) return;
      const answer = await fetch("/live").catch(() => null);
      if (answer && answer.ok && !(await answer.json()).idle) location.reload();
    };
    setInterval(ask, 5000);
    document.addEventListener("visibilitychange", ask);
  }

  function list() {
    for (const place of document.querySelectorAll("[data-at]")) place.textContent = words.onDay(Number(place.dataset.at));
  }

  const pages = { now: live, replay, idle, list };
  window.dash_clientside = window.dash_clientside || {};
  window.dash_clientside.kettleside = {
    begin(start) {
      if (start) pages[start.page](start);
      return true;
    },
  };
})();
