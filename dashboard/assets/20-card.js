// Draws what is known of the cook onto the page, through Dash, touching only what changed.
(() => {
  "use strict";
  const words = window.kettlesideWords;
  const shown = new Map();

  function set(id, props) {
    const text = JSON.stringify(props);
    if (shown.get(id) === text) return;
    // What the server wrote already is not written again: at the start each write delays the plot.
    const fresh = !shown.has(id);
    shown.set(id, text);
    if (fresh && stands(id, props)) return;
    window.dash_clientside.set_props(id, props);
  }

  function stands(id, props) {
    const place = document.getElementById(id);
    return place !== null && Object.entries(props).every(([name, value]) =>
      (name === "hidden" && place.hidden === value)
      || (name === "className" && place.className === value)
      || (name === "children" && typeof value === "string" && place.textContent === value));
  }

  const element = (type, props) => ({ type, namespace: "dash_html_components", props });
  const write = (id, text) => set(id, { children: text });

  function nextUp(look, now) {
    const dues = [];
    if (look.st !== null) dues.push({ kind: "stir", when: look.st, why: look.ws });
    if (look.ck !== null) dues.push({ kind: "check", when: look.ck, why: look.wc });
    return dues.sort((a, b) => a.when - b.when).map((d) => ({ ...d, ...words.due(d.kind, d.when, look.gt, now) }));
  }

  // A short amount stands largest; whole words are set smaller so that none is cut.
  function head(verb, amount) {
    const size = amount.length > 6 ? "amount long" : "amount";
    const parts = [element("Span", { children: verb, className: "verb" })];
    if (amount) parts.push(" ", element("Span", { children: amount, className: size }));
    set("due", { children: parts });
  }

  function nothingDue(look) {
    if (look.sg === "clear") {
      head("It reads clear", "");
      write("due-when", "Heat off when you are content, then Finished.");
    } else {
      head("Nothing due yet", "");
      write("due-when", look.ws);
    }
    write("due-why", "");
  }

  function drawDue(look, now) {
    const dues = look.fi === null ? nextUp(look, now) : [];
    const [first, second] = dues;
    if (look.fi !== null) {
      head("Finished at", words.at(look.fi));
      write("due-when", "");
      write("due-why", "");
    } else if (!first) {
      nothingDue(look);
    } else {
      head(first.verb, first.amount);
      write("due-when", first.line);
      write("due-why", first.why);
    }
    write("after", second ? `Then: ${second.verb[0].toLowerCase()}${second.verb.slice(1)} ${second.amount}, ${second.line}` : "");
    write("after-why", second ? second.why : "");
    set("next", { className: first && first.close ? "due-now" : "" });
    set("caution", { hidden: !first });
    return first ? `${first.verb} ${first.amount}` : "";
  }

  // gone: seconds without an answer from the server, 0 while all is well.
  function drawWrong(look, gone) {
    const lines = look.wr.map(([sentence, since]) => [sentence, `Since ${words.at(since)}.`]);
    if (gone) lines.unshift(["No answer from kettleside; what stands here may be old.", `For ${words.span(gone)}.`]);
    const children = lines.map(([sentence, since]) =>
      element("P", { children: [element("Strong", { children: "Look here: " }), `${sentence} ${since}`] }));
    set("wrong", { children, hidden: !lines.length });
  }

  function drawFacts(look) {
    const [middle, spread] = words.converted(look.cv);
    set("converted", { children: [middle, element("Small", { children: spread })] });
    write("chance", words.chance(look.ch));
    write("paste", words.paste(look.te));
    const lines = [...look.ev].reverse().map(([, kind, when, details]) =>
      element("Li", { children: [element("Span", { children: words.at(when), className: "when" }), words.logged(kind, details)] }));
    set("curve-key", { hidden: !look.ah.length });
    set("log-list", { children: lines.length ? lines : element("Li", { children: "Nothing yet." }) });
  }

  function draw(look, now, gone) {
    const headline = drawDue(look, now);
    drawWrong(look, gone);
    drawFacts(look);
    return headline;
  }

  window.kettlesideCard = { draw, set, write };
})();
