// A row of the log, opened: its time and value corrected, or the row taken back. A correction is a withdrawal and a new
// event of the same kind, which the server makes of one entry.
(() => {
  "use strict";
  const words = window.kettlesideWords;
  const hand = window.kettlesideHand;
  const DAY_S = 86400;
  const STEP_S = 300;
  // Kinds with a value that a person chose among these, or typed.
  const CHOICES = {
    checked: ["result", ["clear", "nearly clear", "hazy", "cloudy"]],
    looked: ["paste", ["thin", "stiff", "patchy", "translucent"]],
  };
  const TYPED = { note: "text", heat: "setting" };
  let row = null;
  let at = 0;
  let value = null;

  function make(tag, props = {}, ...inside) {
    const made = Object.assign(document.createElement(tag), { ...(tag === "button" ? { type: "button" } : {}), ...props });
    made.append(...inside);
    return made;
  }

  const slip = make("dialog", { id: "slip-row" });
  slip.setAttribute("aria-labelledby", "slip-row-title");

  // The moment with this time of day that lies nearest to the one before.
  function moment(text, near) {
    const [hours, minutes] = text.split(":").map(Number);
    const day = new Date(near * 1000);
    day.setHours(hours, minutes, 0, 0);
    const found = day.getTime() / 1000;
    return [found - DAY_S, found, found + DAY_S].sort((a, b) => Math.abs(a - near) - Math.abs(b - near))[0];
  }

  function choices([, options]) {
    const buttons = options.map((one) => make("button", { onclick: () => choose(one, buttons) }, words.capital(one)));
    buttons.forEach((button, place) => button.setAttribute("aria-pressed", String(row.details === options[place])));
    return make("div", { className: "quarter" }, ...buttons);
  }

  function choose(one, buttons) {
    value = one;
    buttons.forEach((button) => button.setAttribute("aria-pressed", String(button.textContent === words.capital(one))));
  }

  function open(data) {
    row = { uid: data.row, kind: data.kind, at: Number(data.at), details: data.details };
    at = row.at;
    value = null;
    const clock = make("input", { type: "time", id: "row-time", value: words.at(at), required: true });
    clock.onchange = () => { if (clock.value) at = moment(clock.value, row.at); };
    const move = (by) => { at += by; clock.value = words.at(at); };
    const parts = [
      make("h2", { id: "slip-row-title" }, words.logged(row.kind, row.details)),
      make("label", { htmlFor: "row-time" }, "When"), clock,
      make("div", { className: "pair" },
        make("button", { autofocus: true, onclick: () => move(-STEP_S) }, "5 min earlier"), make("button", { onclick: () => move(STEP_S) }, "5 min later")),
    ];
    if (CHOICES[row.kind]) parts.push(choices(CHOICES[row.kind]));
    if (TYPED[row.kind]) {
      const field = make("textarea", { id: "row-value", value: row.details, maxLength: 2000, onchange: () => { value = field.value.trim(); } });
      parts.push(make("label", { htmlFor: "row-value" }, "What"), field);
    }
    parts.push(
      make("button", { className: "main", onclick: save }, "Save the correction"),
      make("button", { onclick: takeBack }, "Take it back"),
      make("button", { onclick: () => slip.close() }, "Back"));
    slip.replaceChildren(...parts);
    if (!slip.isConnected) document.body.append(slip);
    slip.showModal();
  }

  function save() {
    slip.close();
    const field = CHOICES[row.kind] ? CHOICES[row.kind][0] : TYPED[row.kind];
    hand.change(row, at, value && value !== row.details ? { [field]: value } : {});
  }

  function takeBack() {
    slip.close();
    hand.takeBack(row);
  }

  document.addEventListener("click", (event) => {
    const button = event.target.closest("button[data-row]");
    if (button) open(button.dataset);
  });
})();
