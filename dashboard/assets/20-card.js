// Draws what is known of the cook onto the page, touching only what changed: until Dash has started on the page as it
// came, from then on through Dash.
(() => {
  "use strict";
  const words = window.kettlesideWords;
  const shown = new Map();

  let put = putPlainly;

  function set(id, props) {
    const text = JSON.stringify(props);
    if (shown.get(id) === text) return;
    shown.set(id, text);
    put(id, props);
  }

  function putPlainly(id, props) {
    const place = document.getElementById(id);
    if (!place) return;
    for (const [name, value] of Object.entries(props)) {
      if (name === "children") place.replaceChildren(...[value].flat().map(node));
      else if (name === "style") Object.assign(place.style, value);
      else place[name] = value;
    }
  }

  // Dash's description of an element as an element.
  function node(part) {
    if (typeof part !== "object") return String(part);
    const { children = [], ...rest } = part.props;
    const made = Object.assign(document.createElement(part.type), rest);
    made.append(...[children].flat().map(node));
    return made;
  }

  // Dash's own page knows nothing yet of what was shown.
  function takeOver() {
    shown.clear();
    put = window.dash_clientside.set_props;
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
      const hot = look.fb.includes("heat off");
      write("due-when", hot ? "Heat off when you are content, then Finished." : "The heat is off. Finished, when you are content.");
    } else {
      head("Nothing due yet", "");
      write("due-when", look.ws);
    }
    write("due-why", "");
  }

  const low = (text) => text[0].toLowerCase() + text.slice(1);

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
    write("after", second ? `Then: ${low(second.verb)} ${second.amount}, ${low(second.line)}` : "");
    write("after-why", second ? second.why : "");
    set("next", { className: first && first.close ? "due-now" : "" });
    set("caution", { hidden: !first });
    return first ? `${first.verb} ${first.amount}` : "";
  }

  // gone: seconds without an answer from the server, 0 while all is well.
  function drawWrong(look, gone) {
    const lines = look.wr.map(([sentence, since]) => [sentence, `Since ${words.at(since)}.`]);
    if (gone) lines.unshift(["No answer from kettleside; what stands here may be old.", `For ${gone < 90 ? `${Math.round(gone)} s` : words.span(gone)}.`]);
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
    write("pace", words.pace(look.rt, now, look.fi !== null));
    drawWrong(look, gone);
    drawFacts(look);
    return headline;
  }

  window.kettlesideCard = { draw, set, write, takeOver };
})();
