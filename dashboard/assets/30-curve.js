// The paste's curve as a plotly figure: plotly is fetched after the first paint, and the figure is moved into Dash's page
// when that is up.
(() => {
  "use strict";
  const CONFIG = { displayModeBar: false, responsive: true };
  // A browser that is never idle, or tells of no paint, gets its curve too.
  const LATEST_MS = 3000;
  const graph = document.createElement("div");
  graph.id = "curve";
  let figure = null;
  let points = [];
  let origin = 0;

  // The viewer's own clock as text without a zone, the one kind of date that plotly writes just as it is given it.
  function local(unix) {
    const date = new Date(unix * 1000);
    return new Date(date.getTime() - date.getTimezoneOffset() * 60000).toISOString().slice(0, 19);
  }

  // Takes in a change: the points from offset k on replace what was there.
  function take(change) {
    if (change.points === undefined) return false;
    if (change.curve_origin !== undefined) origin = change.curve_origin;
    const fresh = [];
    for (let i = 0; i < change.points.length; i += 2) fresh.push([change.points[i], change.points[i + 1]]);
    points = points.filter(([offset]) => offset < change.from_s && change.curve_origin === undefined).concat(fresh);
    return true;
  }

  function heightAt(offset) {
    let best = null;
    for (const [at, tenths] of points) {
      if (tenths !== null && (best === null || Math.abs(at - offset) <= Math.abs(best[0] - offset))) best = [at, tenths];
    }
    return best === null ? null : best[1] / 10;
  }

  // Two checks soon after each other would be written over each other: the second stands below the curve.
  function sides(marks, [from, until]) {
    const room = 0.15 * ((until ?? marks.at(-1)?.when) - from);
    let last = -Infinity;
    let side = "top center";
    return marks.map((mark) => {
      if (mark.kind !== "checked") return side;
      side = mark.when - last < room && side === "top center" ? "bottom center" : "top center";
      last = mark.when;
      return side;
    });
  }

  function build(look) {
    const x = (offset) => local(origin + offset);
    const [times, low, middle, high] = look.forecast.length ? look.forecast : [[], [], [], []];
    const aheadX = times.map(x);
    const tenth = (column) => column.map((tenths) => tenths / 10);
    const marks = look.events.map(([, kind, when, details]) => ({ kind, when, details, y: heightAt(when - origin) }))
      .filter((mark) => mark.y !== null && mark.when >= origin && mark.kind !== "note");
    const filled = [
      { x: aheadX, y: tenth(low) },
      { x: aheadX, y: tenth(high) },
      { x: aheadX, y: tenth(middle) },
      { x: points.map(([offset]) => x(offset)), y: points.map(([, tenths]) => (tenths === null ? null : tenths / 10)) },
      {
        x: marks.map((mark) => local(mark.when)),
        y: marks.map((mark) => mark.y),
        text: marks.map((mark) => (mark.kind === "checked" ? mark.details : "")),
        textposition: sides(marks, look.curve_span),
        hovertext: marks.map((mark) => `${window.kettlesideWords.logged(mark.kind, mark.details)}, ${window.kettlesideWords.at(mark.when)}`),
      },
    ];
    const layout = { ...figure.layout, xaxis: { ...figure.layout.xaxis } };
    if (look.curve_span[1] !== null) layout.xaxis.range = [local(look.curve_span[0]), local(look.curve_span[1])];
    return { data: figure.data.map((trace, i) => ({ ...trace, ...filled[i] })), layout };
  }

  // latest: gives what is known by then, for plotly comes after the words.
  function begin(template, latest) {
    figure = template;
    take(latest());
    place();
    // To run plotly and to draw with it are two long tasks of a slow phone, between which a tap is answered.
    whenPainted(() => whenIdle(() => fetchPlotly(() => whenIdle(() => redraw(latest())))));
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

  function fetchPlotly(then) {
    const script = document.createElement("script");
    script.addEventListener("load", then);
    script.src = document.body.dataset.plotlySrc;
    document.head.append(script);
  }

  const place = () => document.getElementById("curve-place").append(graph);

  function redraw(look) {
    if (!window.Plotly) return;
    const { data, layout } = build(look);
    window.Plotly.react(graph, data, layout, CONFIG);
  }

  window.kettlesideCurve = { begin, take, place, redraw };
})();
