// What Dash's callbacks leave to the browser: charts in its colours once plotly is there, and sending without loss.
// It comes after the first paint.
(() => {
  "use strict";
  const { surely } = window.kettlesideAsk;
  const CONFIG = { displayModeBar: false, responsive: true };
  // A browser that is never idle, or tells of no paint, gets its charts too.
  const LATEST_MS = 3000;
  const PNG_SCALE = 2;
  const SILENT_MS = 5000;
  const dark = window.matchMedia("(prefers-color-scheme: dark)");
  const element = (type, props, namespace = "dash_html_components") => ({ type, namespace, props });
  const still = () => window.dash_clientside.no_update;

  function exchanged(part, pairs) {
    if (Array.isArray(part)) return part.map((one) => exchanged(one, pairs));
    if (part && typeof part === "object") return Object.fromEntries(Object.entries(part).map(([key, one]) => [key, exchanged(one, pairs)]));
    return typeof part === "string" && part in pairs ? pairs[part] : part;
  }

  // Where the browser does not tell of its first paint, a while later.
  function whenPainted(then) {
    let told = false;
    const tell = () => {
      if (told) return;
      told = true;
      then();
    };
    setTimeout(tell, LATEST_MS);
    const painted = (list) => list.getEntriesByName("first-contentful-paint").length && tell();
    new PerformanceObserver(painted).observe({ type: "paint", buffered: true });
  }

  function whenIdle(then) {
    const soon = window.requestIdleCallback || ((call) => setTimeout(call, 200));
    soon(then, { timeout: LATEST_MS });
  }

  // Each colour of a light figure with its partner in a dark one, as the server knows them.
  const pairs = () => JSON.parse(document.body.dataset.schemePairs);
  const ready = () => window.dash_clientside.set_props("charts-ready", { data: { pairs: dark.matches ? pairs() : {} } });

  function fetchPlotly(then) {
    if (window.Plotly) return then();
    const script = document.createElement("script");
    script.addEventListener("load", then);
    script.src = document.body.dataset.plotlySrc;
    document.head.append(script);
    return null;
  }

  // Once Dash's page stands. To run plotly and to draw with it are two long tasks of a slow phone, between which a tap
  // is answered.
  function begin() {
    if (!document.querySelector(".chart")) return;
    whenPainted(() => whenIdle(() => fetchPlotly(() => whenIdle(ready))));
    dark.addEventListener("change", ready);
  }

  // Words and table are written past Dash, which would make a component of every cell.
  const part = (name, kind) => document.getElementById(`{"chart":"${name}","part":"${kind}"}`);
  const made = (tag, inside) => {
    const one = document.createElement(tag);
    one.append(...inside);
    return one;
  };

  function rows({ columns, rows: cells }) {
    const heads = columns.map((text) => Object.assign(made("th", [text]), { scope: "col" }));
    const lines = cells.map((row) => made("tr", row.map((text) => made("td", [text]))));
    return made("table", [made("thead", [made("tr", heads)]), made("tbody", lines)]);
  }

  // One chart after the other, each when the browser is idle: together they would be one long task.
  let drawn = Promise.resolve();
  const inTurn = () => (drawn = drawn.then(() => new Promise(whenIdle)));

  async function drawChart(data, charts) {
    if (!data) return still();
    document.dispatchEvent(new Event("chart"));
    const name = window.dash_clientside.callback_context.outputs_list.id.chart;
    part(name, "words").textContent = data.words;
    part(name, "table").replaceChildren(rows(data));
    if (!charts) return still();
    if (!part(name, "place").firstElementChild) await inTurn();
    const figure = exchanged(data.figure, charts.pairs);
    return element("Graph", { id: { chart: name, part: "graph" }, figure, config: CONFIG, responsive: true, style: { height: "100%" } }, "dash_core_components");
  }

  // A chart as a file in its own colours. plotly would read its drawing back from an address that the policy forbids.
  async function save({ kind, savedAs }, plot) {
    let href = await window.Plotly.toImage(plot, { format: "svg" });
    if (kind === "png") {
      const picture = Object.assign(new Image(), { src: href });
      await picture.decode();
      const canvas = Object.assign(document.createElement("canvas"), { width: picture.width * PNG_SCALE, height: picture.height * PNG_SCALE });
      canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
      href = canvas.toDataURL("image/png");
    }
    Object.assign(document.createElement("a"), { href, download: `${savedAs}.${kind}` }).click();
  }

  document.addEventListener("click", (event) => {
    const button = event.target.closest("[data-saved-as]");
    const plot = button && button.closest(".drawn").querySelector(".js-plotly-plot");
    if (plot) save(button.dataset, plot);
  });

  // A small file of text, which the named sender then sends as it is; what became of the choice is said beside it.
  const chosen = {};
  document.addEventListener("click", (event) => {
    const button = event.target.closest("[data-reads]");
    if (!button) return;
    const { reads: name, mostBytes } = button.dataset;
    const chooser = Object.assign(document.createElement("input"), { type: "file", accept: ".csv,text/csv,text/plain" });
    chooser.addEventListener("change", async () => {
      const [file] = chooser.files;
      if (!file) return;
      const small = file.size <= Number(mostBytes);
      const text = small ? await file.text() : "";
      const words = small ? `${file.name} is chosen.` : `${file.name} is larger than ${mostBytes / 1000} kB; read it in with the command.`;
      chosen[name] = text;
      window.dash_clientside.set_props(`${name}-file`, { children: words });
    });
    chooser.click();
  });

  // What is ticked to be compared, and along what; the address keeps it for a reload and for other eyes.
  function choose(_ticks, _ways, asked) {
    const { triggered_id: id, outputs_list: [, ticks, ways] } = window.dash_clientside.callback_context;
    const taken = id.laid !== undefined && asked.cooks.includes(id.laid);
    const cooks = id.laid === undefined ? asked.cooks : taken ? asked.cooks.filter((name) => name !== id.laid) : [...asked.cooks, id.laid];
    const by = id.way?.replaceAll("-", " ") ?? asked.by;
    window.history.replaceState(window.history.state, "", `?${new URLSearchParams([...cooks.map((name) => ["cook", name]), ["by", by]])}`);
    return [{ cooks, by }, ticks.map((one) => String(cooks.includes(one.id.laid))), ways.map((one) => String(one.id.way.replaceAll("-", " ") === by))];
  }

  // The latest readings into their places; a new stamp has all the rest sent anew.
  function readings(heard, stamp) {
    const [places] = window.dash_clientside.callback_context.outputs_list;
    if (!heard || !heard.values) return [places.map(still), still()];
    const words = ({ id }) => (heard.values[id.channel] || [])[id.reading === "sent" ? 0 : 1] ?? still();
    return [places.map(words), heard.stamp === stamp ? still() : heard.stamp];
  }

  // What a page that asks each second says when it is not answered.
  let last = { heard: null, at: performance.now() };
  function unheard(_beat, heard) {
    if (heard !== last.heard || document.hidden) last = { heard, at: performance.now() };
    const words = (heard && heard.words) || (performance.now() - last.at > SILENT_MS ? "No answer from kettleside; what stands here may be old." : "");
    return [words, !words];
  }

  async function send(taps, task) {
    if (!taps) return [still(), still()];
    try {
      const typed = Object.entries(task.fields || {}).map(([key, id]) => [key, document.getElementById(id).value]);
      const { send: name } = window.dash_clientside.callback_context.outputs_list[0].id;
      const body = { ...task.body, ...Object.fromEntries(typed), ...(name in chosen ? { text: chosen[name] } : {}) };
      const answer = await surely(task.path, task.gathers ? window.kettlesideForm.gathered(body) : body);
      if (answer.to) window.location.assign(answer.to);
      return [{ ok: true, answer }, answer.said || ""];
    } catch (error) {
      const words = error.status ? error.message : `${error.message} Tap again; it counts once.`;
      // What the server will not have, the manual tells about.
      const way = element("A", { children: "What to do", href: window.kettlesideWords.help(words), className: "way to-manual" });
      return [{ ok: false, words }, error.status ? [words, " ", way] : words];
    }
  }

  // What only the browser knows of its connection (W3C, Secure Contexts).
  const secure = () => (window.isSecureContext
    ? "Yes: this page is secure. The phone may be kept awake, and the app put on the home screen."
    : "Not yet: this page came without TLS, or the phone does not trust the certificate.");

  window.kettlesideCharts = { begin };
  const own = ((window.dash_clientside ||= {}).kettleside ||= {});
  Object.assign(own, { choose, drawChart, readings, secure, send, unheard });
})();
