// The list of cooks: what is ticked to be compared, also of rows that the words just typed do not find.
(() => {
  "use strict";
  const MOST_TICKED = 6;

  function tick(_taps, ids, before) {
    const tapped = window.dash_clientside.callback_context.triggered.filter((one) => one.value && ids.length);
    const own = tapped.length === 1 ? JSON.parse(tapped[0].prop_id.replace(/\.n_clicks$/, "")).tick : null;
    const others = before.filter((name) => name !== own);
    const ticked = own === null || others.length < before.length ? others : [...others, own].slice(-MOST_TICKED);
    const pressed = ids.map((id) => String(ticked.includes(id.tick)));
    const words = ticked.length > 1 ? `Compare ${ticked.length} cooks` : "Compare this cook with…";
    const href = `/compare?${ticked.map((name) => `cook=${encodeURIComponent(name)}`).join("&")}`;
    return [ticked, pressed, words, href, ticked.length === 0];
  }

  Object.assign((window.dash_clientside ||= {}).kettleside ||= {}, { tick });
})();
