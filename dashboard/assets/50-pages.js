// Starts each page: the live one asks for what is new. Dash takes over once it is up.
(() => {
  "use strict";
  const words = window.kettlesideWords;
  const card = window.kettlesideCard;
  const hand = window.kettlesideHand;
  const ring = window.kettlesideRing;
  const awake = window.kettlesideAwake;
  const shell = window.kettlesideShell;
  const { ask: request, again } = window.kettlesideAsk;

  // How long the server has given nothing new: from the first request on that it did not answer, for a page that asked
  // nothing, as on a phone that slept, was not left without an answer. seconds(): 0 while all is well. told(): since
  // when (Unix seconds) and what it said instead, null while all is well.
  function listener(worthTellingS) {
    let missed = null;
    let instead = "";
    const seconds = () => {
      const silent = missed === null ? 0 : (performance.now() - missed) / 1000;
      return silent > worthTellingS ? silent : 0;
    };

    // Passes a request's outcome on.
    async function listen(request) {
      const asked = performance.now();
      try {
        const answer = await request;
        missed = null;
        return answer;
      } catch (error) {
        if (missed === null) missed = asked;
        instead = error.status ? error.message : "";
        throw error;
      }
    }
    return { listen, seconds, told: () => (seconds() ? { since: Date.now() / 1000 - seconds(), instead } : null) };
  }

  // The picture of the cook is the server's. Dash asks for the first one, this for the next: when something was logged,
  // else after everyMs, and never while one is under way.
  function picture(cook) {
    // A request whose answer got lost is one for so long.
    const LOST_MS = 15000;
    let asked = null;
    let waits = true;
    let old = false;
    let turn = 0;
    document.addEventListener("chart", () => { waits = false; });

    function look(everyMs) {
      if (asked === null) return;
      const passed = performance.now() - asked;
      if ((waits && passed < LOST_MS) || (!old && passed < everyMs)) return;
      [asked, waits, old, turn] = [performance.now(), true, false, turn + 1];
      window.dash_clientside.set_props("course-wanted", { data: { cook, turn } });
    }
    return { look, stands: () => { asked = performance.now(); }, isOld: () => { old = true; } };
  }

  function live(start) {
    let look = { ...start.look, cook: start.cook };
    let heard = performance.now();
    const silent = listener(8);
    const course = picture(start.cook);
    const pause = () => (look.rate > 1 ? 1000 : 2000);
    const coursePause = () => (look.finished !== null ? Infinity : look.rate > 1 ? 4000 : 60000);
    // An invented cook stands still with its server; in the moments until that shows it would run hours ahead.
    const over = () => look.rate > 1 && silent.seconds() > 0;
    const cookNow = () => (look.finished === null && !over() ? look.time + ((performance.now() - heard) / 1000) * look.rate : look.time);

    function draw() {
      const headline = card.draw(look, cookNow(), silent.told(), !start.wall);
      document.title = headline ? `${headline} · ${look.title}` : look.title;
      card.write("title", look.title);
      const unanswered = look.alarms.find((one) => one[2] === "unacknowledged");
      const next = look.finished === null ? card.nextUp(look, cookNow())[0] : undefined;
      const pressing = { headline: look.headline, next_due: next ? [next.kind, next.when] : null, alarm: unanswered && unanswered[3] };
      card.set("alert-line", shell.props(shell.matter(pressing, cookNow()), "#title"));
      const due = next && next.close ? { stir: "stirred", check: "checked" }[next.kind] : null;
      hand.offer(look, look.stage === "cooking" ? due : look.first_buttons[0], cookNow());
      ring.look(look, look.finished === null && !over() ? silent.seconds() : 0);
      awake.show();
      hand.showKept();
    }

    function take(change) {
      look = { ...look, ...change };
      heard = performance.now();
      if (change.events) course.isOld();
    }

    // A phone that sleeps asks nothing; when it wakes it asks once for all it missed.
    const ask = again(async (signal, limit) => {
      try {
        take(await silent.listen(request(`/live?cook=${encodeURIComponent(start.cook)}&since=${look.cursor}`, { signal, limit })));
        // Only a server that has just answered is asked for a picture.
        if (!document.hidden) course.look(coursePause());
        // A wall view goes on to the next cook by itself.
        if (start.after && look.finished !== null && !(await request(start.after, { signal, limit })).idle) location.reload();
      } finally {
        draw();
      }
    }, { pause });
    setInterval(() => { if (!document.hidden) draw(); }, look.rate > 1 ? 250 : 1000);
    hand.begin(start.cook, ask);
    ring.begin(start.cook, look.alert_number);
    awake.begin(Boolean(start.wall));
    draw();
    setTimeout(ask, pause());
    return () => {
      course.stands();
      draw();
    };
  }

  // The list of running cooks: what is due at each, soonest told largest; another list is another page.
  function cookers(start) {
    let looks = start.cooks;
    let heard = performance.now();
    const silent = listener(8);
    const one = (share) => words.percent([share, share, share])[0].replace(" ", "\u00a0");
    const names = (list) => list.map((look) => look.cook).join(" ");

    function draw() {
      const passed = (performance.now() - heard) / 1000;
      looks.forEach((look, number) => {
        const now = look.time + passed * look.rate;
        const due = look.next_due === null ? null : words.due(look.next_due[0], look.next_due[1], null, now);
        const nothing = look.waits ? "No stir yet" : look.stage === "clear" ? "It reads clear" : "Nothing due yet";
        card.write(`due-${number}`, look.headline ? look.headline[0] : due ? `${due.verb} ${due.amount}` : nothing);
        const done = look.converted === null ? "not started" : look.done === null ? `converted ${one(look.converted)}` : `${one(look.done)} done`;
        card.write(`state-${number}`, `${look.headline ? `Since ${words.at(look.headline[1])}; ` : due ? `${due.line}; ` : ""}paste ${words.paste(look.paste_tenths_c)}, ${done}`);
        const more = look.alarms.length > 1 ? ` And ${look.alarms.length - 1} more.` : "";
        card.set(`wrong-${number}`, { children: look.alarms.length ? `Look here: ${look.alarms[0][0]}${more}` : "", hidden: !look.alarms.length });
      });
      const silence = silent.told();
      card.set("stale", { children: silence ? words.away(silence, true) : "", hidden: !silence });
      hand.showKept();
    }

    again(async (signal, limit) => {
      try {
        const { cooks } = await silent.listen(request("/live-all", { signal, limit }));
        if (names(cooks) !== names(looks)) location.reload();
        looks = cooks;
        heard = performance.now();
      } finally {
        draw();
      }
    }, { pause: () => (looks.some((look) => look.rate > 1) ? 2000 : 5000) })();
    hand.begin(null, () => {});
    draw();
    return draw;
  }

  // An idle page turns into the live one as soon as a cook runs.
  function idle(start) {
    const address = start.rig ? `/live?rig=${encodeURIComponent(start.rig)}` : "/live";
    again(async (signal, limit) => {
      if (!(await request(address, { signal, limit })).idle) location.reload();
    }, { pause: () => 5000 })();
    hand.begin(null, () => {});
    return hand.showKept;
  }

  const pages = { now: live, cookers, idle, still: () => null };
  const start = JSON.parse(document.getElementById("first-look").textContent);
  const redraw = pages[start.page](start) || (() => {});
  document.getElementById("first-paint").dataset.filled = "";

  // Puts Dash's page in the place of the one that came first, in one step.
  function takeOver() {
    const first = document.getElementById("first-paint");
    const place = document.getElementById("taken-over");
    if (!place.querySelector("main") || hand.busy()) return setTimeout(takeOver, 100);
    const focused = document.activeElement.id;
    first.remove();
    place.hidden = false;
    card.takeOver();
    redraw();
    if (focused) document.getElementById(focused)?.focus();
    document.documentElement.dataset.by = "dash";
    hand.openAsked();
    window.kettlesideCharts.begin();
    return null;
  }

  // The server writes times as this phone's clock shows them.
  document.cookie = `kettleside-zone=${Intl.DateTimeFormat().resolvedOptions().timeZone}; path=/; max-age=31536000; SameSite=Lax`;
  Object.assign((window.dash_clientside ||= {}).kettleside ||= {}, { takeOver: () => Boolean(takeOver()) });
})();
