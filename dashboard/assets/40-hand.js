// Buttons: logs what a person did, and takes it back. What is tapped is kept until the server has it.
(() => {
  "use strict";
  const words = window.kettlesideWords;
  const card = window.kettlesideCard;
  const entries = window.kettlesideEntries;
  const { ask } = window.kettlesideAsk;
  // Two taps on one button within this time are one; nobody stirs twice as fast.
  const TWICE_MS = 2000;
  // So long the strip stands; later the row of the log is there for it.
  const OFFERED_MS = 20000;
  let leaving = 0;
  let cook = null;
  let after = () => {};
  // The latest deed: its entry, what it is called, its uid once that is known, and how it may be changed.
  let last = null;
  const tapped = new Map();
  // Of the step that is next, as its button sets it.
  let timer = null;

  // movable: whether the person's memory of the time may be better than the tap.
  function strip(text, undoable, movable = undoable) {
    card.set("strip", { hidden: false });
    clearTimeout(leaving);
    leaving = setTimeout(() => card.set("strip", { hidden: true }), OFFERED_MS);
    card.write("strip-words", text);
    card.set("undo", { hidden: !undoable });
    card.set("earlier", { hidden: !movable });
  }

  function tell(more) {
    last.more = more;
    const words = `${last.text}${more}`;
    strip(last.twice ? `${words}. Tapped twice, logged once.` : words, Boolean(last.undoable && last.uid), Boolean(last.movable));
  }

  function isSecondTap(deed) {
    const name = JSON.stringify([deed.path, deed.body]);
    const before = tapped.get(name);
    tapped.set(name, performance.now());
    return before !== undefined && performance.now() - before < TWICE_MS;
  }

  // deed: path, body and text of the entry, as the strip is to call it, with how it may be changed.
  function enter({ path, body, text, uid, ...ways }) {
    try {
      const entry = entries.add({ path, body, text });
      last = { id: entry.id, text, uid: uid === undefined ? entry.id : uid, ...ways };
      tell(", being sent");
      return entry;
    } catch (error) {
      strip(error.message, false);
      return null;
    }
  }

  // A deed that a second tap must not do twice.
  function enterOnce(deed) {
    if (!isSecondTap(deed)) return enter(deed);
    if (last && last.text === deed.text) {
      last.twice = true;
      tell(last.more);
    } else strip(`${deed.text}: tapped twice, logged once.`, false);
    return null;
  }

  function answered(entry, answer, refusal) {
    const sent = document.getElementById("note-text");
    // Until now the text was the person's only copy that they can see.
    if (answer && entry.body.kind === "note" && sent && sent.value.trim() === entry.body.fields.text) card.set("note-text", { value: "" });
    if (last && last.id === entry.id) {
      if (refusal !== undefined) {
        strip(`Not logged: ${refusal}`, false);
        last = null;
      } else {
        if (last.uid === "") last.uid = answer.uid;
        tell(last.timed ? `, ${words.at(answer.at)}` : "");
      }
    }
    after();
  }

  const log = (kind, fields, details = Object.values(fields).join(", ")) => enterOnce({
    path: "/log", body: { cook, kind, fields }, text: words.logged(kind, details),
    undoable: true, movable: true, timed: true,
  });

  // An answer to a condition, which the strip under the thumb takes back like any event.
  const seen = (condition) =>
    enterOnce({ path: "/log", body: { cook, kind: "acknowledged", fields: { condition } }, text: `Seen: ${condition}`, undoable: true });
  const putAside = (condition, minutes) => enterOnce({
    path: "/log", body: { cook, kind: "shelved", fields: { condition, minutes } },
    text: `Put aside for ${minutes} min: ${condition}`, undoable: true,
  });
  const showAgain = (uid) => enterOnce({ path: "/back", body: { cook, uid }, text: "Shown again" });

  // deed: keep or drop. What was noticed may become two events, so the server says which.
  const settle = (deed, noticed, from) => enterOnce({
    path: `/${deed}`, body: { cook, noticed, at: from }, text: deed === "keep" ? words.logged(noticed, "") : `Dropped: ${noticed}`,
    uid: "", undoable: true, timed: true,
  });

  const undo = () => last && enter({ path: "/back", body: { cook, uid: last.uid }, text: `Taken back: ${last.text}` });

  // A second tap moves it by five minutes more.
  const earlier = () => last && enter({
    path: "/earlier", body: { cook, uid: last.uid, by_s: 300 }, text: last.text, undoable: true, movable: true, timed: true,
  });

  // A row of the log. fields: what is to be another value.
  function change(row, at, fields) {
    if (at === row.at && !Object.keys(fields).length) return strip("Nothing was changed.", false);
    return enterOnce({
      path: "/change", body: { cook, uid: row.uid, at, fields }, text: `Corrected: ${words.logged(row.kind, Object.values(fields).join("") || row.details)}`,
      timed: true,
    });
  }

  const takeBack = (row) => enterOnce({ path: "/back", body: { cook, uid: row.uid }, text: `Taken back: ${words.logged(row.kind, row.details)}` });

  async function newCook() {
    try {
      // After a finished cook the next one is on the same cooker.
      const begun = await ask("/begin", { body: { cook: cook || "" } });
      location.assign(`/?cook=${encodeURIComponent(begun.cook)}`);
    } catch (error) {
      card.write("strip-words", error.status ? error.message : `${error.message} Try again.`);
    }
  }

  const slips = () => document.querySelectorAll("dialog[open]");
  // What the address asks for: a slip, or a place on the page that stands where Dash put it only now.
  function openAsked() {
    const asked = location.hash && document.getElementById(location.hash.slice(1));
    if (!asked) return;
    if (asked.matches("dialog")) asked.showModal();
    else asked.scrollIntoView();
  }

  const closeAll = () => slips().forEach((slip) => slip.close());

  function keepNote() {
    const field = document.getElementById("note-text");
    const text = field.value.trim();
    if (!text) return field.focus();
    closeAll();
    if (entries.list().some((entry) => entry.refused === undefined && entry.body.cook === cook && entry.body.kind === "note" && entry.body.fields.text === text)) {
      return strip("This note is kept already, and waits to be sent.", false);
    }
    return log("note", { text });
  }

  // A setting that is none of the usual ones, as it was typed.
  function logHeat() {
    const field = document.getElementById("heat-setting");
    const setting = field.value.trim();
    if (!setting) return field.focus();
    closeAll();
    return log("heat", { setting });
  }

  // What was typed; a field left empty stays as it is. all: for every cook of this kitchen, or for this one.
  function setCosts(all) {
    const amounts = {};
    for (const field of document.querySelectorAll("#slip-costs input")) {
      const text = field.value.trim().replace(",", ".");
      if (!text) continue;
      if (!Number.isFinite(Number(text))) return field.focus();
      amounts[field.id.slice(6).replaceAll("-", "_")] = Number(text);
    }
    if (!Object.keys(amounts).length) return document.querySelector("#slip-costs input").focus();
    for (const name of Object.keys(amounts)) card.set(`costs-${name.replaceAll("_", "-")}`, { value: "" });
    closeAll();
    if (!all) return enterOnce({ path: "/log", body: { cook, kind: "costs set", fields: amounts }, text: "Costs set", undoable: true, timed: true });
    return enterOnce({ path: "/costs", body: { cook, amounts }, text: "Costs set for all cooks", timed: true });
  }

  document.addEventListener("click", (event) => {
    const button = event.target.closest("button");
    if (!button) return;
    const data = button.dataset;
    if (data.open) {
      closeAll();
      document.getElementById(`slip-${data.open}`).showModal();
    } else if (data.log) {
      closeAll();
      log(data.log, data.field ? { [data.field]: data.value } : {});
    } else if (button.id === "first-timer") log("timer set", timer, `${timer.step}, ${words.span(timer.minutes * 60)}`);
    else if (data.note) keepNote();
    else if (data.heat) logHeat();
    else if (data.costs) setCosts(data.costs === "kitchen");
    else if (data.close) closeAll();
    else if (data.seen) seen(data.seen);
    else if (data.aside) putAside(data.aside, Number(data.minutes));
    else if (data.again) showAgain(data.again);
    else if (data.deed) settle(data.deed, data.noticed, Number(data.from));
    else if (data.resend) entries.sendAgain(data.resend);
    else if (data.discard) entries.discard(data.discard);
    else if (button.id === "undo") undo();
    else if (button.id === "earlier") earlier();
    else if (button.id === "begin") newCook();
  });

  const SIZES = ["one-alone", "one-of-two", "one-of-three"];

  // What the next step has beside its kind of event: its page of the bench, and its timer. Gives which of them stand in
  // the dock, and which of all is the main one.
  function offerStep(look, now) {
    const [, , kind, page, name, minutes] = look.next_step;
    const [text] = look.steps.find((step) => step[1] === "next");
    // What takes its time has a page to go on with, which is called by its own name.
    if (page) card.set("first-page", { children: kind ? text : words.capital(page), href: `/bench/${page}?cook=${encodeURIComponent(cook)}` });
    if (name) {
      timer = { step: name, minutes: minutes === null ? words.untilMorning(now) : minutes };
      card.set("first-timer", { children: words.reminder(minutes) });
    }
    const own = [...(name ? ["timer"] : []), ...(page ? ["page"] : [])];
    return [own, look.first_buttons.includes(kind) ? kind : own[0]];
  }

  // Which buttons stand under the thumb. due: the kind that is due, which takes most of the place.
  function offer(look, due, now) {
    const finished = look.finished !== null;
    const [own, main] = look.next_step ? offerStep(look, now) : [[], due];
    const kinds = [...look.first_buttons, ...own];
    card.set("begin", { hidden: !finished });
    // The one that is due takes two thirds of the dock; the others stand over each other beside it.
    const others = kinds.length + (finished ? 1 : 0) - 1;
    card.set("first", { className: kinds.includes(main) ? SIZES[others] : "" });
    for (const button of document.querySelectorAll("#first > [id^='first-']")) {
      const kind = button.id.slice(6).replaceAll("-", " ");
      const place = kinds.indexOf(kind);
      card.set(button.id, place < 0 ? { hidden: true } : { hidden: false, style: { order: place }, className: kind === main ? "main" : "" });
    }
  }

  const showKept = () => card.drawKept(entries.waiting(), entries.refused());

  // name: of the cook, null where the page has none. whenDone: called after each answer.
  function begin(name, whenDone) {
    cook = name;
    after = whenDone;
    entries.begin(answered, showKept);
    setInterval(showKept, 1000);
    showKept();
  }

  // A person in the middle of something is not to be disturbed.
  const busy = () => slips().length > 0 || document.querySelector("button:active, input:active") !== null;

  window.kettlesideHand = { begin, change, takeBack, offer, openAsked, busy, showKept };
})();
