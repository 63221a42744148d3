// Draws what is known of the cook onto the page, touching only what changed. Dash puts the page up once and changes
// nothing of it but its charts, so this writes past it: through Dash each change would cost a slow phone milliseconds.
(() => {
  "use strict";
  const words = window.kettlesideWords;
  const shown = new Map();
  let taken = false;

  function set(id, props) {
    const text = JSON.stringify(props);
    // What a person has typed since is not known here.
    if (shown.get(id) === text && !("value" in props)) return;
    shown.set(id, text);
    put(id, props);
  }

  function put(id, props) {
    const place = document.getElementById(id);
    if (!place) return;
    for (const [name, value] of Object.entries(props)) {
      // What a person types into, Dash keeps.
      if (name === "value" && taken) window.dash_clientside.set_props(id, { value });
      else if (name === "children") place.replaceChildren(...[value].flat().map(node));
      else if (name === "style") Object.assign(place.style, value);
      else place[name] = value;
    }
  }

  // Dash's description of an element as an element.
  function node(part) {
    if (typeof part !== "object") return String(part);
    const { children = [], ...rest } = part.props;
    const made = document.createElement(part.type);
    for (const [name, value] of Object.entries(rest)) {
      if (name.includes("-")) made.setAttribute(name, value);
      else made[name] = value;
    }
    made.append(...[children].flat().map(node));
    return made;
  }

  // Dash's own page has nothing of what was shown.
  function takeOver() {
    shown.clear();
    taken = true;
  }

  const element = (type, props) => ({ type, namespace: "dash_html_components", props });
  const write = (id, text) => set(id, { children: text });

  function nextUp(look, now) {
    const dues = [];
    if (look.stir_due !== null) dues.push({ kind: "stir", when: look.stir_due, why: look.stir_reason });
    if (look.check_due !== null) dues.push({ kind: "check", when: look.check_due, why: look.check_reason });
    return dues.sort((a, b) => a.when - b.when).map((d) => ({ ...d, ...words.due(d.kind, d.when, look.give_or_take_min, now) }));
  }

  // A short amount stands largest; whole words are set smaller so that none is cut.
  function head(verb, amount) {
    const size = amount.length > 6 ? "amount long" : "amount";
    const parts = [element("Span", { children: verb, className: "verb" })];
    if (amount) parts.push(" ", element("Span", { children: amount, className: size }));
    set("due", { children: parts });
  }

  function nextStep([headline, line, , , , , until], now) {
    head(headline, "");
    write("due-when", until !== null && until > now ? `${words.capital(words.until(until, now))}. ${line}` : line);
  }

  // A batch whose cook is over: once somebody has gone on with it, its next step, and at last where it stands.
  function afterCook(look, now) {
    if (look.stage === "after" && look.next_step) nextStep(look.next_step, now);
    else if (look.stage === "after" && look.stands) {
      head(words.capital(look.stands), "");
      write("due-when", "");
    } else {
      head("Finished at", words.at(look.finished));
      write("due-when", look.stands && look.next_step ? `Next: ${low(look.next_step[0])}.` : "");
    }
    write("due-why", "");
  }

  function nothingDue(look, now) {
    if (look.waits) {
      head("No stir yet", "");
      write("due-when", look.waits);
    } else if (look.next_step) {
      nextStep(look.next_step, now);
    } else {
      head("Nothing due yet", "");
      write("due-when", look.stir_reason);
    }
    write("due-why", "");
  }

  // A danger goes before all that is due; since when, and what to do about it, stands with its answers in the next box.
  function endangered(look, first) {
    head(look.headline[0], "");
    write("due-when", "");
    write("due-why", "");
    write("after", first ? `Then: ${low(first.verb)} ${first.amount}` : look.waits);
    write("after-why", first ? first.why : "");
    set("next", { className: "danger" });
    set("why", { hidden: false });
    return look.headline[0];
  }

  const low = (text) => text[0].toLowerCase() + text.slice(1);

  function drawDue(look, now) {
    const dues = look.finished === null ? nextUp(look, now) : [];
    const [first, second] = dues;
    if (look.finished === null && look.headline) return endangered(look, first);
    if (look.finished !== null) {
      afterCook(look, now);
    } else if (!first) {
      nothingDue(look, now);
    } else {
      head(first.verb, first.amount);
      write("due-when", first.line);
      write("due-why", first.why);
    }
    write("after", second ? `Then: ${low(second.verb)} ${second.amount}` : "");
    write("after-why", second ? second.why : "");
    set("next", { className: first && first.close ? `due-now ${first.kind}` : "" });
    set("why", { hidden: !first });
    return first ? `${first.verb} ${first.amount}` : "";
  }

  const button = (text, data) => element("Button", { children: text, type: "button", ...data });
  const ASIDE_MIN = 30;
  const seen = (name) => button("Seen", { "data-seen": name });
  const aside = (name) => button(`Put aside ${ASIDE_MIN}\u00a0min`, { "data-aside": name, "data-minutes": `${ASIDE_MIN}` });
  const toManual = (href) => element("A", { children: "What to do", href, className: "way to-manual" });
  const pair = (buttons) => element("Div", { children: buttons, className: "answers" });

  // silence: as words.away has it, null while the server answers. What is finished gives no alarm.
  // invented: a cook faster than life, whose end is the end of its server; nothing is lost with it.
  function drawAway(silence, running, invented) {
    const text = silence ? (invented && !silence.instead ? words.OVER : words.away(silence, running)) : "";
    set("away", { children: text, hidden: !silence, className: running && !invented ? "loud" : "" });
  }

  // Each step with its tick; those after a clear sample lead to their page of the bench.
  const MARKS = { done: "\u2713", next: "\u2192", open: "\u00a0", passed: "\u2013" };
  function drawSteps(look, now) {
    const rows = look.steps.map(([text, state, at, page]) => {
      const time = at === null ? "" : state === "done" ? words.at(at) : words.until(at, now);
      const told = [state === "passed" ? `${text}, not logged` : text, " ", element("Small", { children: time })];
      const named = page ? element("A", { children: told, href: `/bench/${page}?cook=${encodeURIComponent(look.cook)}` }) : element("Span", { children: told });
      return element("Li", { children: [element("Span", { children: MARKS[state], className: "mark", "aria-hidden": "true" }), named], className: state, ...(state === "next" ? { "aria-current": "step" } : {}) });
    });
    set("steps", { children: rows, hidden: !rows.length, className: look.stage === "before" ? "" : "after" });
  }

  // answered: whether this page takes answers.
  function drawWrong(look, answered) {
    const told = (...states) => look.alarms.filter((one) => states.includes(one[2]));
    const said = ([sentence, since, state, , until]) => `${sentence} ${words.lasted(since, state, until)}`;
    const loud = told("unacknowledged", "returned unacknowledged").map((one) => {
      const start = one[2] === "returned unacknowledged" ? "It was: " : one[3].endsWith(" due") ? "Timer: " : "Look here: ";
      const line = element("P", { children: [element("Strong", { children: start }), said(one)] });
      const way = toManual(one[6]);
      const answers = one[2] === "returned unacknowledged" ? [seen(one[3])] : [seen(one[3]), aside(one[3])];
      return element("Div", { children: answered ? [line, way, pair(answers)] : [line, way] });
    });
    set("wrong", { children: loud, hidden: !loud.length });
    const quiet = told("acknowledged").map((one) => {
      const line = element("P", { children: said(one) });
      return element("Div", { children: answered ? [line, toManual(one[6]), pair([aside(one[3])])] : [line, toManual(one[6])] });
    });
    set("known", { children: quiet, hidden: !quiet.length });
    const away = told("shelved").map((one) => {
      const line = element("P", { children: said(one) });
      return element("Div", { children: answered ? [line, pair([button("Show it again", { "data-again": one[5] })])] : line });
    });
    write("aside-words", `Put aside: ${away.length}`);
    set("aside-list", { children: away });
    set("aside", { hidden: !away.length });
  }

  function drawOffers(look) {
    // Where the curve does not tell which of two it was, the person does.
    const offers = look.suggestions.map(([kind, from, until, ...which]) => {
      const data = { "data-noticed": kind, "data-from": `${from}` };
      const question = words.noticed(kind, from, until);
      const keep = (text, as) => button(text, { ...data, "data-noticed": as, "data-deed": "keep" });
      const yes = which.length ? which.map((as) => keep(words.capital(as), as)) : [keep("Yes, log it", kind)];
      const answers = [...yes, button("No, drop it", { ...data, "data-deed": "drop" })];
      return element("Div", { children: [element("P", { children: question, className: "question" }), pair(answers)] });
    });
    const key = element("P", { children: "The curve looks like it, and nobody has logged it.", className: "why" });
    set("offers", { children: offers.length ? [...offers, key] : [], hidden: !offers.length });
  }

  const looksOnly = document.documentElement.dataset.may === "look";

  // A row of the log, which opens to be corrected where this page takes answers.
  function logRow([uid, kind, when, details], answered) {
    const inside = [element("Span", { children: words.at(when), className: "when" }), words.logged(kind, details)];
    const data = { "data-row": uid, "data-kind": kind, "data-at": `${when}`, "data-details": details };
    return element("Li", { children: answered && !looksOnly ? button([element("Span", { children: inside })], { ...data, className: "row" }) : inside });
  }

  function drawFacts(look, answered) {
    for (const fact of ["done", "converted"]) {
      const [middle, spread] = look[fact] === null && look.converted !== null ? ["not told", ""] : words.percent(look[fact]);
      set(fact, { children: [middle, " ", element("Small", { children: spread })] });
    }
    const early = look.stage === "before";
    for (const id of ["done-row", "chance-row", "deeper"]) set(id, { hidden: early });
    write("chance", words.chance(look.chance_clear));
    write("paste", words.paste(look.paste_tenths_c));
    const lines = [...look.events].reverse().map((one) => logRow(one, answered));
    set("log-list", { children: lines.length ? lines : element("Li", { children: "Nothing yet." }) });
  }

  // What this phone keeps: how much waits to be sent, and what the server would not have.
  function drawKept(waiting, refused) {
    set("waiting", { children: waiting.length ? words.waiting(waiting.length) : "", hidden: !waiting.length });
    const lines = refused.map((entry) => {
      const line = [element("Strong", { children: "Not logged: " }), `${entry.text}, ${words.at(entry.tapped / 1000)}. ${entry.refused}`];
      const answers = [button("Send it again", { "data-resend": entry.id }), button("Discard it", { "data-discard": entry.id })];
      return element("Div", { children: [element("P", { children: line }), toManual(words.help(entry.refused)), pair(answers)] });
    });
    set("refused", { children: lines, hidden: !lines.length });
  }

  function draw(look, now, silence, answered) {
    const headline = drawDue(look, now);
    write("pace", words.pace(look.rate, now, look.finished !== null));
    drawAway(silence, look.finished === null, look.rate > 1);
    drawWrong(look, answered);
    drawOffers(look);
    drawSteps(look, now);
    drawFacts(look, answered);
    return headline;
  }

  window.kettlesideCard = { draw, nextUp, drawKept, set, write, takeOver };
})();
