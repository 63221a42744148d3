// The replay of a cook. A finger moves the line of the moment at once; the server is asked for the latest moment alone,
// one request at a time; the course is drawn anew where the finger rests, because that takes a slow phone too long.
(() => {
  "use strict";
  const words = window.kettlesideWords;
  const { ask } = window.kettlesideAsk;
  // No finer than a pixel of a phone, so that a moment asked for once is there the next time; events are met exactly.
  const GRID_S = 30;
  const NEAR_S = 1;
  const REST_MS = 250;
  const LATE_MS = 8000;
  const MOST_KEPT = 600;
  const TURN_S = 0.2;
  // Minutes of the cook in one second.
  const SPEEDS = [1, 5, 20];
  const kept = new Map();
  let latest = null;
  let asking = false;
  let rest = null;
  let drawn = null;
  let frame = null;
  let playing = false;
  let reached = 0;
  let speed = 0;

  const set = (id, props) => window.dash_clientside.set_props(id, props);
  const still = () => window.dash_clientside.no_update;
  const share = (moment) => (moment - frame.begin) / (frame.end - frame.begin);

  function momentOf(value) {
    const exact = frame.begin + (Number(value) / 1000) * (frame.end - frame.begin);
    const event = frame.moments.find((one) => Math.abs(one - exact) < NEAR_S);
    return event ?? Math.min(frame.last, Math.max(frame.first, Math.round(exact / GRID_S) * GRID_S));
  }

  // Where the finger has gone on meanwhile, what came is nearer to it than what stands there.
  async function askLatest() {
    if (asking) return;
    asking = true;
    try {
      while (!kept.has(latest)) {
        const moment = latest;
        const said = await ask(`${window.location.pathname}/then?t=${moment}`, { limit: LATE_MS });
        if (kept.size >= MOST_KEPT) kept.delete(kept.keys().next().value);
        kept.set(moment, said);
        show(moment, said);
      }
      show(latest, kept.get(latest));
    } catch (error) {
      place("glance").textContent = error.message;
    } finally {
      asking = false;
    }
  }

  const place = (id) => document.getElementById(id);

  // Straight into the page, because this comes with every step of a finger.
  function show(moment, said) {
    for (const [id, text] of Object.entries(said)) {
      const at = place(id);
      if (at.textContent !== text) at.textContent = text;
    }
    for (const what of ["clear", "stir", "check"]) place(`${what}-row`).hidden = !said[`${what}-said`];
    document.documentElement.dataset.at = String(moment);
  }

  // The course is drawn as of null at the end, whole.
  function drawnAt(moment) {
    if (moment === drawn) return;
    drawn = moment;
    set("rested", { data: moment });
  }

  function go(moment) {
    const line = place("moment-line");
    line.style.left = `calc(var(--left) + (100% - var(--left) - var(--right)) * ${share(moment).toFixed(5)})`;
    line.hidden = moment >= frame.last;
    place("moment-label").textContent = moment >= frame.last ? "As it was known at the end" : `As it was known at ${words.at(moment)}`;
    // A screen reader would read the slider's own value, parts of its axis.
    place("moment").setAttribute("aria-valuetext", words.at(moment));
    if (moment === latest) return;
    latest = moment;
    const known = kept.get(moment);
    if (known) show(moment, known);
    else askLatest();
    clearTimeout(rest);
    rest = setTimeout(() => drawnAt(moment >= frame.last ? null : moment), REST_MS);
  }

  // By a button or in play; the slider follows.
  function move(moment) {
    const to = Math.min(frame.last, Math.max(frame.first, moment));
    place("moment").value = 1000 * share(to);
    go(momentOf(place("moment").value));
  }

  function frameHere(found) {
    if (!found) return still();
    frame = found;
    place("moment").setAttribute("aria-valuetext", words.at(frame.last));
    setTimeout(() => go(frame.last));
    return still();
  }

  function plays(on) {
    playing = on;
    place("play").textContent = on ? "Stop" : "Play";
    place("play").setAttribute("aria-pressed", String(on));
    return !on;
  }

  // A step to the next event either way, or a turn of the play. Gives whether the beat rests.
  function drive() {
    const by = window.dash_clientside.callback_context.triggered[0]?.prop_id.split(".")[0];
    if (!by || !frame) return true;
    if (by === "speed") {
      speed = (speed + 1) % SPEEDS.length;
      place("speed").textContent = `${SPEEDS[speed]} min a second`;
      return still();
    }
    if (by === "play") {
      if (!playing && latest >= frame.last) move(frame.first);
      reached = latest;
      return plays(!playing);
    }
    if (by === "beat") {
      if (!playing) return true;
      // A slow phone skips moments, so that the speed stays what it says.
      reached += SPEEDS[speed] * 60 * TURN_S;
      move(reached);
      return plays(reached < frame.last);
    }
    const next = by === "event-after" ? frame.moments.find((one) => one > latest) : frame.moments.findLast((one) => one < latest);
    if (next !== undefined) move(next);
    return plays(false);
  }

  // Kept from Dash, which would select the text of a slider, and fail.
  for (const kind of ["input", "change"]) {
    document.addEventListener(kind, (event) => {
      if (event.target.id !== "moment") return;
      event.stopPropagation();
      if (!frame || kind === "change") return;
      if (playing) plays(false);
      go(momentOf(event.target.value));
    }, { capture: true });
  }

  // A touch on a bar of the lost time, or on its line, shades its stretch of the course, drawn whole for that.
  function pick(_touches, _taps, losses) {
    const [by] = window.dash_clientside.callback_context.triggered;
    if (!by?.value || !losses) return still();
    const { chart, loss } = JSON.parse(by.prop_id.replace(/\.\w+$/, ""));
    if (chart !== undefined && chart !== "lost") return still();
    const near = (off) => off.every((one) => one < NEAR_S);
    const touched = chart && by.value.points[0].customdata;
    const chosen = touched ? losses.find(([begins, ends]) => near([Math.abs(begins - touched[0]), Math.abs(ends - touched[1])])) : losses[loss];
    move(frame.last);
    document.querySelector(".course")?.scrollIntoView({ block: "start" });
    return chosen ?? still();
  }

  // The course as a picture to keep: plotly makes the drawing; the policy allows pictures as data alone.
  async function keepPicture(_svg, _png, name) {
    const [by] = window.dash_clientside.callback_context.triggered;
    const graph = document.querySelector(".course .js-plotly-plot");
    if (!by?.value || !graph) return still();
    const { offsetWidth: width, offsetHeight: height } = graph;
    const drawing = await window.Plotly.toImage(graph, { format: "svg", width, height });
    const kind = by.prop_id.startsWith("keep-png") ? "png" : "svg";
    const link = document.createElement("a");
    link.download = `${name}.${kind}`;
    link.href = kind === "svg" ? drawing : await asPng(drawing, width, height);
    document.body.append(link);
    link.click();
    link.remove();
    return "";
  }

  async function asPng(drawing, width, height) {
    const picture = Object.assign(new Image(), { src: drawing });
    await picture.decode();
    const canvas = Object.assign(document.createElement("canvas"), { width: 2 * width, height: 2 * height });
    canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
    return canvas.toDataURL("image/png");
  }

  const noteToSend = (text, cook) => ({ path: "/log", body: { cook, kind: "note", fields: { text: (text || "").trim() } } });

  function noteKept(sent) {
    if (!sent?.ok) return still();
    window.location.reload();
    return "";
  }

  Object.assign((window.dash_clientside ||= {}).kettleside ||= {}, { frameHere, drive, pick, keepPicture, noteToSend, noteKept });
})();
