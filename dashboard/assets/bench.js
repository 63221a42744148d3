// The bench pages: sends what was typed, shows what comes of it, and has it kept on a tap.
(() => {
  "use strict";
  const WAIT_MS = 160;
  const day = new Intl.DateTimeFormat("en-GB", { weekday: "short", day: "numeric", month: "short", year: "numeric" });
  const minute = new Intl.DateTimeFormat("en-GB", {
    day: "numeric", month: "short", year: "numeric", hour: "2-digit", minute: "2-digit", hourCycle: "h23",
  });
  const all = (selector, within = document) => [...within.querySelectorAll(selector)];

  // Dates in the viewer's own zone.
  for (const place of all("[data-at]")) place.textContent = day.format(new Date(Number(place.dataset.at) * 1000));
  for (const place of all("[data-minute]")) place.textContent = minute.format(new Date(Number(place.dataset.minute) * 1000));
  for (const place of all("[data-zone]")) place.textContent = Intl.DateTimeFormat().resolvedOptions().timeZone;
  document.addEventListener("click", (event) => {
    if (event.target.closest("[data-print]")) window.print();
  });

  const find = document.getElementById("find");
  if (find) {
    const rows = all("[data-text]");
    const of = document.getElementById("found").textContent.replace(/^\d+/, "");
    find.addEventListener("input", () => {
      const words = find.elements.q.value.toLowerCase().split(/\s+/);
      let shown = 0;
      for (const row of rows) {
        row.hidden = !words.every((word) => row.dataset.text.includes(word));
        if (!row.hidden) shown += 1;
      }
      document.getElementById("found").textContent = shown + of;
    });
  }

  const form = document.getElementById("bench");
  if (!form) return;
  const { ask, surely } = window.kettlesideAsk;
  const fieldOf = (error) => (error.told && error.told.field) || "";
  const sum = form.dataset.sum;
  const cook = form.dataset.cook;
  const ounceG = Number(document.body.dataset.ounceG);
  const units = all('[name="unit"]');
  let unit = "g";
  let timer = null;
  let asking = null;
  let lastUid = null;
  let turns = {};

  const fieldsIn = (place) => all("input[name], select[name]", place);
  const rowOf = (field) => field.closest("[data-row]");
  const rowsOf = (name) => all(`[data-row="${name}"]`, form);

  function read(fields) {
    const found = {};
    for (const field of fields) {
      if (field.type === "checkbox") found[field.name] = field.checked;
      else if (field.type !== "radio" || field.checked) found[field.name] = field.value;
    }
    return found;
  }

  function typed() {
    const found = read(fieldsIn(form).filter((field) => !rowOf(field)));
    for (const row of all("[data-row]", form)) {
      (found[row.dataset.row] ||= []).push(read(fieldsIn(row)));
    }
    return found;
  }

  // A place named "oils.1.about" lies in the second row of oils that was filled in; any other anywhere but in a row.
  function places(kind, name) {
    const [list, number, inner] = name.split(".");
    if (inner !== undefined && document.getElementById(list)) {
      const row = rowsOf(list)[Number(number)];
      return row ? all(`[data-${kind}="${inner}"]`, row) : [];
    }
    return all(`[data-${kind}="${name}"]`, form).filter((place) => !rowOf(place));
  }

  const lines = (sentences) => sentences.map((words) => {
    const line = document.createElement("p");
    line.textContent = words;
    return line;
  });

  function refuse(words, field) {
    for (const place of all("[data-refusal]", form)) place.hidden = true;
    for (const place of fieldsIn(form)) place.removeAttribute("aria-invalid");
    form.dataset.refused = words ? "yes" : "";
    if (!words) return;
    const [place] = field ? places("refusal", field) : [];
    const [list, number, inner] = (field || "").split(".");
    const scope = inner === undefined ? form : rowsOf(list)[Number(number)];
    const input = scope && scope.querySelector(`[name="${inner === undefined ? field : inner}"]`);
    // A number that no longer belongs to what is typed must not be weighed.
    for (const out of all("[data-out]", form)) out.textContent = "–";
    if (place) {
      place.textContent = words;
      place.hidden = false;
      for (let inside = place.closest("details"); inside; inside = inside.parentElement.closest("details")) inside.open = true;
    } else say(words, null);
    if (input) input.setAttribute("aria-invalid", "true");
  }

  function show(answer) {
    if (!answer.out) return;
    refuse("", "");
    for (const out of all("[data-out]", form)) if (rowOf(out)) out.textContent = "";
    for (const [name, words] of Object.entries(answer.out)) for (const place of places("out", name)) place.textContent = words;
    for (const place of all("[data-say]", form)) place.replaceChildren(...lines(answer.say[place.dataset.say] || []));
    for (const place of all("[data-care]", form)) place.replaceChildren(...lines(answer.care[place.dataset.care] || []));
    for (const [name, there] of Object.entries(answer.show)) for (const place of places("show", name)) place.hidden = !there;
    turns = answer.turn;
    if (answer.bar.nought !== undefined) draw(answer);
  }

  function draw({ bar, out }) {
    const span = document.getElementById("span");
    const put = (name, left, right) => {
      const mark = span.querySelector(`.${name}`);
      mark.style.left = `${left}%`;
      if (right !== undefined) mark.style.width = `${right - left}%`;
    };
    put("ends", bar.least, bar.most);
    put("likely", bar.likely_low, bar.likely_high);
    put("taken", bar.taken);
    put("nought", bar.nought);
    span.setAttribute("aria-label", `True excess by the sum ${out.excess}, likely ${out.likely}, at the ends ${out.ends}`);
  }

  const sent = (more, fields) => ({ sum, cook, unit, form: fields, ...more });

  async function work() {
    if (asking) asking.abort();
    const mine = asking = new AbortController();
    try {
      show(await ask("/bench/work", { body: sent({}, typed()), signal: mine.signal }));
    } catch (error) {
      if (mine.signal.aborted) return;
      refuse(error.status ? error.message : "No answer from kettleside; nothing here is worked out anew.", fieldOf(error));
    }
    if (asking === mine) asking = null;
  }

  function soon() {
    clearTimeout(timer);
    timer = setTimeout(work, WAIT_MS);
  }

  function say(words, uid) {
    const slate = document.getElementById("slate");
    slate.hidden = !words;
    document.getElementById("slate-words").textContent = words;
    lastUid = uid;
    document.getElementById("take-back").hidden = !uid;
  }

  async function keep(button) {
    const row = button.dataset.rowKeep === undefined ? null : rowOf(button);
    const fields = row ? { ...read(fieldsIn(row)), grams: row.querySelector('[name="weighed"]').value } : typed();
    Object.assign(fields, JSON.parse(button.dataset.with || "{}"));
    button.disabled = true;
    try {
      const kept = await surely("/bench/keep", sent({ keep: button.dataset.keep }, fields));
      for (const name of kept.clear) (row || form).querySelector(`[name="${name}"]`).value = "";
      say(kept.kept, kept.uid);
      work();
    } catch (error) {
      if (error.status) refuse(error.message, row ? "" : fieldOf(error));
      else say("No answer from kettleside, so it may or may not be written down. Tap again; it is written down once.", null);
    }
    button.disabled = false;
  }

  async function takeBack() {
    try {
      await surely("/back", { cook, uid: lastUid });
      say("Taken back.", null);
      work();
    } catch (error) {
      say(error.message, lastUid);
    }
  }

  // The same water, told the other way: what was worked out last is what the field now says.
  function turned(choice) {
    const same = (turns[choice.name] || {})[choice.value];
    const field = form.querySelector(`[data-weight-if^="${choice.name}="]`);
    if (field && same !== undefined && !form.dataset.refused) field.value = String(Number(same.toPrecision(6)));
  }

  const numberIn = (field) => (field && field.value.trim() ? Number(field.value.replace(",", ".")) : NaN);

  function scale() {
    const oils = rowsOf("oils").map((row) => row.querySelector('[name="grams"]'));
    const all_ = oils.map(numberIn).filter(Number.isFinite).reduce((sum, grams) => sum + grams, 0);
    const wanted = form.querySelector('[name="scale_to"]');
    const factor = numberIn(wanted) / all_;
    if (!(factor > 0 && Number.isFinite(factor))) return say("Write how much oil it is to be, and weigh out at least one oil first.", null);
    const by = form.querySelector('[name="water_by"]:checked').value;
    const others = ["glycerol", ...(by === "grams" ? ["water"] : [])].map((name) => form.querySelector(`[name="${name}"]`));
    for (const field of [...oils, ...others]) {
      const number = numberIn(field);
      if (Number.isFinite(number)) field.value = String(Number((number * factor).toPrecision(6)));
    }
    // Weighed for another size: no longer true of this one.
    for (const field of all(".weighed input", form)) field.value = "";
    wanted.value = "";
    say("", null);
    return work();
  }

  async function begin(button) {
    button.disabled = true;
    try {
      const begun = await ask("/bench/begin", { body: sent({}, typed()) });
      location.href = `/bench?cook=${encodeURIComponent(begun.cook)}`;
    } catch (error) {
      button.disabled = false;
      refuse(error.status ? error.message : "No answer from kettleside; look at Now before you start a cook again.", fieldOf(error));
    }
  }

  async function save() {
    try {
      const { sheet } = await ask("/bench/sheet", { body: sent({}, typed()) });
      const link = document.createElement("a");
      link.href = URL.createObjectURL(new Blob([sheet], { type: "application/toml" }));
      link.download = "batch.toml";
      link.click();
      setTimeout(() => URL.revokeObjectURL(link.href), 10000);
    } catch (error) {
      refuse(error.message, fieldOf(error));
    }
  }

  // Which choice stands, shown in words, units and parts that go with it.
  function follow() {
    const chosen = read(fieldsIn(form).filter((field) => field.type === "radio"));
    for (const place of all("[data-words-for]", form)) place.textContent = place.dataset[chosen[place.dataset.wordsFor]];
    for (const place of all("[data-unit-for]", form)) {
      const words = place.dataset[chosen[place.dataset.unitFor]];
      place.textContent = words === "g" ? unit : words;
    }
    for (const place of all("[data-unit]", form)) place.textContent = unit;
    for (const place of all("[data-when]", form)) {
      const [name, value] = place.dataset.when.split("=");
      place.hidden = chosen[name] !== value;
    }
  }

  function isWeight(field) {
    if (field.dataset.weight !== undefined) return true;
    const [name, value] = (field.dataset.weightIf || "=").split("=");
    return name !== "" && read(fieldsIn(form).filter((each) => each.type === "radio"))[name] === value;
  }

  function turnTo(next) {
    const factor = next === unit ? 1 : next === "oz" ? 1 / ounceG : ounceG;
    unit = next;
    for (const field of fieldsIn(form).filter(isWeight)) {
      const number = Number(field.value.replace(",", "."));
      if (field.value.trim() && Number.isFinite(number) && factor !== 1) field.value = String(Number((number * factor).toPrecision(6)));
    }
    for (const button of units) button.checked = button.value === unit;
    follow();
  }

  form.addEventListener("submit", (event) => event.preventDefault());
  form.addEventListener("input", (event) => {
    if (event.target.type === "radio") {
      turned(event.target);
      follow();
    }
    soon();
  });
  document.addEventListener("change", (event) => {
    if (event.target.name !== "unit") return;
    localStorage.setItem("kettleside unit", event.target.value);
    turnTo(event.target.value);
    soon();
  });
  document.addEventListener("click", (event) => {
    const button = event.target.closest("button");
    if (!button) return;
    if (button.dataset.keep) keep(button);
    else if (button.id === "take-back") takeBack();
    else if (button.dataset.begin !== undefined) begin(button);
    else if (button.dataset.sheet !== undefined) save();
    else if (button.dataset.scale !== undefined) scale();
    else if (button.dataset.more) {
      const made = document.getElementById(`${button.dataset.more}-row`).content.cloneNode(true);
      document.getElementById(button.dataset.more).append(made);
      follow();
      rowsOf(button.dataset.more).at(-1).querySelector("input").focus();
    } else if (button.dataset.less !== undefined) {
      rowOf(button).remove();
      soon();
    }
  });

  turnTo(localStorage.getItem("kettleside unit") === "oz" ? "oz" : "g");
  work();
})();
