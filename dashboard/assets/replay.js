// One past cook, moment by moment. What a moment shows comes whole from the server, so that nothing leaks into it from
// later; while a finger drags, only the latest moment is asked for.
(() => {
  "use strict";
  const words = window.kettlesideWords;
  const card = window.kettlesideCard;
  const past = window.kettlesidePast;
  const { ask, surely } = window.kettlesideAsk;
  // A moment of a long cook is thought through anew, and every other cook of the kitchen may be laid beside this one.
  const LIMIT_MS = 8000;
  const LEDGER_MS = 60000;
  const start = JSON.parse(document.getElementById("first-look").textContent);
  const frame = start.frame;
  const SVG = "http:" + "//www.w3.org/2000/svg";
  const EDGE = { left: 40, right: 12, top: 18, bottom: 26 };
  const HEIGHT = 260;
  const KEPT_MOMENTS = 600;
  // Minutes of the cook in one second.
  const SPEEDS = [1, 5, 20];
  const TURN_MS = 200;
  const moments = [...new Set(frame.moments.map(([moment]) => moment))];
  const [first, last] = [moments[0], moments[moments.length - 1]];
  const kept = new Map([[start.look.time, start.look]]);
  const drawing = document.getElementById("curve");
  const slider = document.getElementById("moment");
  const parts = {};
  let look = start.look;
  let here = last;
  let wanted = null;
  let asking = false;
  let speed = 0;
  let playing = null;
  let shownMarks = "";
  let width = 0;

  const x = (unix) => EDGE.left + ((width - EDGE.left - EDGE.right) * (unix - frame.curve_span[0])) / Math.max(frame.curve_span[1] - frame.curve_span[0], 60);
  const y = (celsius) => HEIGHT - EDGE.bottom - ((HEIGHT - EDGE.top - EDGE.bottom) * (celsius - frame.scale_c[0])) / (frame.scale_c[1] - frame.scale_c[0]);

  function element(type, attributes, text) {
    const made = document.createElementNS(SVG, type);
    for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
    if (text !== undefined) made.textContent = text;
    return made;
  }

  // The scales, once for each width.
  function ground() {
    width = Math.max(300, Math.round(drawing.parentElement.clientWidth));
    drawing.setAttribute("viewBox", `0 0 ${width} ${HEIGHT}`);
    drawing.replaceChildren();
    for (let c = frame.scale_c[0]; c <= frame.scale_c[1]; c += 20) {
      drawing.append(element("line", { class: "rule", x1: EDGE.left, x2: width - EDGE.right, y1: y(c), y2: y(c) }),
        element("text", { x: EDGE.left - 6, y: y(c) + 5, "text-anchor": "end" }, c));
    }
    drawing.append(element("text", { x: EDGE.left, y: 12 }, "°C"));
    const span = frame.curve_span[1] - frame.curve_span[0];
    const step = [900, 1800, 3600, 7200, 14400].find((s) => (span / s) * 56 < width - EDGE.left) || 28800;
    const zone = new Date(frame.curve_span[0] * 1000).getTimezoneOffset() * 60;
    for (let t = Math.ceil((frame.curve_span[0] - zone) / step) * step + zone; t < frame.curve_span[1]; t += step) {
      drawing.append(element("text", { x: x(t), y: HEIGHT - 6, "text-anchor": "middle" }, words.at(t)),
        element("line", { class: "rule", x1: x(t), x2: x(t), y1: HEIGHT - EDGE.bottom, y2: HEIGHT - EDGE.bottom + 5 }));
    }
    for (const [name, type] of [["stretch", "rect"], ["band", "path"], ["likely", "path"], ["paste", "path"], ["marks", "g"], ["cursor", "line"]]) {
      parts[name] = element(type, { class: name });
      drawing.append(parts[name]);
    }
    parts.stretch.setAttribute("visibility", "hidden");
    shownMarks = "";
  }

  const place = (offset, tenths) => `${x(look.curve_origin + offset).toFixed(1)},${y(tenths / 10).toFixed(1)}`;

  function drawCurve() {
    let path = "";
    let pen = "M";
    for (let i = 0; i < look.points.length; i += 2) {
      if (look.points[i + 1] === null) pen = "M";
      else {
        path += pen + place(look.points[i], look.points[i + 1]);
        pen = "L";
      }
    }
    parts.paste.setAttribute("d", path);
    const [times, low, middle, high] = look.forecast.length ? look.forecast : [[], [], [], []];
    const inside = times.map((t, i) => i).filter((i) => look.curve_origin + times[i] <= frame.curve_span[1] + 60);
    const line = (column) => inside.map((i) => place(times[i], column[i]));
    parts.likely.setAttribute("d", inside.length > 1 ? `M${line(middle).join("L")}` : "");
    parts.band.setAttribute("d", inside.length > 1 ? `M${[...line(low), ...line(high).reverse()].join("L")}Z` : "");
  }

  function heightAt(offset) {
    let best = null;
    for (let i = 0; i < look.points.length; i += 2) {
      if (look.points[i + 1] !== null && (best === null || Math.abs(look.points[i] - offset) <= Math.abs(look.points[best] - offset))) best = i;
    }
    return best === null ? null : look.points[best + 1] / 10;
  }

  function drawMarks() {
    const now = JSON.stringify(look.events);
    if (now === shownMarks) return;
    shownMarks = now;
    parts.marks.replaceChildren();
    // Where the last words above and below the curve stand; words where there is no room either way are left out.
    const last = { above: -100, below: -100 };
    for (const [, kind, when, details] of look.events) {
      const height = kind === "note" || when < look.curve_origin ? null : heightAt(when - look.curve_origin);
      if (height === null) continue;
      parts.marks.append(element("line", { x1: x(when), x2: x(when), y1: y(height) - 7, y2: y(height) + 7 }));
      const side = ["above", "below"].find((one) => x(when) - last[one] >= 44);
      if (kind !== "checked" || !side) continue;
      last[side] = x(when);
      const anchor = x(when) > width - 40 ? "end" : "middle";
      parts.marks.append(element("text", { class: "small", x: x(when), y: y(height) + (side === "above" ? -11 : 26), "text-anchor": anchor }, details.split(",")[0]));
    }
  }

  function drawCursor(moment) {
    const at = x(Math.max(moment, frame.curve_span[0]));
    for (const [name, value] of Object.entries({ x1: at, x2: at, y1: EDGE.top - 8, y2: HEIGHT - EDGE.bottom })) parts.cursor.setAttribute(name, value);
    card.write("moment-label", `As it was known at ${words.at(moment)}`);
    // A screen reader would read the slider's own value, seconds of an era.
    card.set("moment", { ariaValueText: words.at(moment) });
  }

  const cell = (text) => ({ type: "Td", props: { children: text } });

  function spread([low, middle, high]) {
    return high === null ? `${words.at(middle)}, likely from ${words.at(low)}` : `${words.at(middle)}, likely ${words.at(low)} to ${words.at(high)}`;
  }

  function cameClear() {
    if (!frame.came_clear) return "No check read clear.";
    const [notYet, clear] = frame.came_clear;
    const was = notYet === null ? `Clear at ${words.at(clear)}` : `Clear at ${words.at(clear)}, not yet at ${words.at(notYet)}`;
    const [low, middle, high] = look.clear_at;
    if (middle === null) return `${was}.`;
    if (low > clear) return `${was}: it was too late.`;
    if (high !== null && notYet !== null && high < notYet) return `${was}: it was too early.`;
    return `${was}: it came true.`;
  }

  function row(name, said, came) {
    return { type: "Tr", props: { children: [{ type: "Th", props: { children: name, scope: "row" } }, cell(said), cell(came)] } };
  }

  function drawSaid() {
    const rows = [];
    const nextStir = frame.stirs.find((moment) => moment > look.time);
    const nextCheck = frame.checks.find(([moment]) => moment > look.time);
    if (look.stage !== "finished" && look.stage !== "clear") rows.push(row("Clear", look.clear_at[1] === null ? "Nothing yet" : spread(look.clear_at), cameClear()));
    if (look.stir_due !== null) rows.push(row("Stir", words.at(look.stir_due), nextStir ? `Stirred at ${words.at(nextStir)}.` : "Never again."));
    if (look.check_due !== null) rows.push(row("Check", words.at(look.check_due), nextCheck ? `Checked at ${words.at(nextCheck[0])}: ${nextCheck[1]}.` : "Never again."));
    if (!rows.length) rows.push(row("Clear", "Nothing more to say", cameClear()));
    card.set("said", { children: rows });
  }

  function draw() {
    drawCurve();
    drawMarks();
    drawCursor(look.time);
    card.draw(look, look.time, null);
    drawSaid();
    card.write("title", look.title);
    card.write("as-of", `As it was known on ${words.onDay(look.time)}`);
    document.documentElement.dataset.at = String(look.time);
  }

  async function fetched(moment) {
    if (kept.has(moment)) return kept.get(moment);
    const found = await ask(`/at?cook=${encodeURIComponent(start.cook)}&t=${moment}`, { limit: LIMIT_MS });
    if (kept.size >= KEPT_MOMENTS) kept.delete(kept.keys().next().value);
    kept.set(moment, found);
    return found;
  }

  async function go(moment) {
    here = moment;
    wanted = moment;
    drawCursor(moment);
    if (asking) return;
    asking = true;
    while (wanted !== null) {
      const next = wanted;
      wanted = null;
      try {
        look = await fetched(next);
        draw();
      } catch (error) {
        wanted = null;
        card.write("as-of", error.message);
      }
    }
    asking = false;
    fetchAhead();
  }

  // While it plays, the next moment is there before it is asked for; where a finger goes next nobody knows.
  function fetchAhead() {
    if (!playing) return;
    const next = grid(here + (SPEEDS[speed] * 60 * TURN_MS) / 1000);
    if (!kept.has(next)) fetched(next).catch(() => null);
  }

  // Only so many moments are told apart, so that one asked for once is there the next time.
  const grid = (moment) => Math.min(last, Math.max(first, Math.round((moment - first) / start.step) * start.step + first));

  function stop() {
    clearInterval(playing);
    playing = null;
    card.set("play", { textContent: "Play", ariaPressed: "false" });
  }

  function play() {
    if (playing) return stop();
    if (here >= last) here = first;
    let moment = here;
    playing = setInterval(() => {
      // A slow phone skips moments, so that the speed stays what it says.
      moment = Math.min(last, moment + (SPEEDS[speed] * 60 * TURN_MS) / 1000);
      slider.value = moment;
      go(grid(moment));
      if (moment >= last) stop();
    }, TURN_MS);
    card.set("play", { textContent: "Stop", ariaPressed: "true" });
    return null;
  }

  function stretch(begins, ends) {
    const [from, to] = [x(begins), Math.max(x(ends), x(begins) + 3)];
    for (const [name, value] of Object.entries({ x: from, width: to - from, y: EDGE.top, height: HEIGHT - EDGE.top - EDGE.bottom, visibility: "visible" })) parts.stretch.setAttribute(name, value);
    slider.value = Math.min(last, Math.ceil(ends));
    go(Math.min(last, Math.ceil(ends)));
    drawing.scrollIntoView({ block: "center" });
  }

  async function ledger(against) {
    const section = document.getElementById("time");
    if (!section) return;
    const address = `${section.dataset.from}?against=${encodeURIComponent(against)}`;
    const text = await ask(address, { as: "text", limit: LEDGER_MS }).catch(() => null);
    if (text === null) {
      section.lastElementChild.textContent = "It could not be counted just now.";
      return;
    }
    const made = new DOMParser().parseFromString(text, "text/html");
    section.replaceChildren(...made.body.childNodes);
    past.tell(section);
  }

  slider.addEventListener("input", () => { stop(); go(grid(Number(slider.value))); });
  document.addEventListener("click", (event) => {
    const button = event.target.closest("button");
    if (!button) return;
    if (button.dataset.step) {
      stop();
      const forward = button.dataset.step === "1";
      const others = moments.filter((moment) => (forward ? moment > here : moment < here));
      if (!others.length) return;
      const next = forward ? others[0] : others[others.length - 1];
      slider.value = next;
      go(next);
    } else if (button.id === "play") play();
    else if (button.id === "speed") {
      speed = (speed + 1) % SPEEDS.length;
      button.textContent = `${SPEEDS[speed]} min a second`;
    } else if (button.dataset.begins) {
      stop();
      stretch(Number(button.dataset.begins), Number(button.dataset.ends));
    }
  });
  document.addEventListener("change", (event) => { if (event.target.id === "against") ledger(event.target.value); });
  // A link that only lets look has no form for notes.
  document.getElementById("note")?.addEventListener("submit", async (event) => {
    event.preventDefault();
    const text = document.getElementById("note-text");
    const photo = document.getElementById("note-photo").files[0];
    const fields = photo ? { text: text.value.trim(), photo: photo.name } : { text: text.value.trim() };
    try {
      await surely("/log", { cook: start.cook, kind: "note", fields });
      event.target.reset();
      card.write("note-said", "Kept.");
      kept.clear();
      go(last);
    } catch (error) {
      card.write("note-said", error.status ? error.message : `${error.message} Keep it again; it is kept once.`);
    }
  });
  window.addEventListener("resize", () => { ground(); draw(); });

  ground();
  draw();
  ledger("");
})();
