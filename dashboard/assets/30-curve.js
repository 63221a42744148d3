// The paste's curve as a plotly figure inside Dash's own graph.
(() => {
  "use strict";
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
    if (change.p === undefined) return false;
    if (change.or !== undefined) origin = change.or;
    const fresh = [];
    for (let i = 0; i < change.p.length; i += 2) fresh.push([change.p[i], change.p[i + 1]]);
    points = points.filter(([offset]) => offset < change.k && change.or === undefined).concat(fresh);
    return true;
  }

  function heightAt(offset) {
    let best = null;
    for (const [at, tenths] of points) {
      if (tenths !== null && (best === null || Math.abs(at - offset) <= Math.abs(best[0] - offset))) best = [at, tenths];
    }
    return best === null ? null : best[1] / 10;
  }

  function build(look) {
    const x = (offset) => local(origin + offset);
    const [times, low, middle, high] = look.ah.length ? look.ah : [[], [], [], []];
    const aheadX = times.map(x);
    const tenth = (column) => column.map((tenths) => tenths / 10);
    const marks = look.ev.map(([, kind, when, details]) => ({ kind, when, details, y: heightAt(when - origin) }))
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
        hovertext: marks.map((mark) => `${window.kettlesideWords.logged(mark.kind, mark.details)}, ${window.kettlesideWords.at(mark.when)}`),
      },
    ];
    const layout = { ...figure.layout, xaxis: { ...figure.layout.xaxis } };
    if (look.sp[1] !== null) layout.xaxis.range = [local(look.sp[0]), local(look.sp[1])];
    return { data: figure.data.map((trace, i) => ({ ...trace, ...filled[i] })), layout };
  }

  function begin(template, look) {
    figure = template;
    take(look);
    const graph = {
      type: "Graph",
      namespace: "dash_core_components",
      props: { id: "curve", figure: build(look), config: { displayModeBar: false, responsive: true }, style: { height: "260px" } },
    };
    window.dash_clientside.set_props("curve-place", { children: graph });
  }

  const redraw = (look) => window.dash_clientside.set_props("curve", { figure: build(look) });

  window.kettlesideCurve = { begin, take, redraw };
})();
