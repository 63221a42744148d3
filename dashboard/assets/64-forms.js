// A form's part that the browser alone can do: what is typed goes to the server once nothing was typed for a moment,
// is kept for the next visit, and goes with a tap as it stands at that moment.
(() => {
  "use strict";
  const WAIT_MS = 200;
  // As long as a slip of the hand is noticed.
  const TAKE_BACK_MS = 20000;
  const still = () => window.dash_clientside.no_update;
  const context = () => window.dash_clientside.callback_context;
  const setProps = (id, props) => window.dash_clientside.set_props(id, props);
  let latest = null;
  // As the form came, which needs no keeping: a visit that typed nothing has none drawn anew by the next.
  let untouched = "";
  let turn = 0;
  let asked = 0;
  let hiding = null;
  // The form of which nothing was kept.
  let settled = null;

  const keyOf = ({ sum, cook, base }) => `kettleside bench ${sum} ${base || cook}`;

  // Fields of a row ("oils.1") apart, in the order of their rows.
  function formOf(fields) {
    const form = {};
    const rows = {};
    for (const { id: { field, row }, value = "" } of fields) {
      const place = row ? ((rows[row.split(".")[0]] ||= {})[row] ||= {}) : form;
      place[field] = value ?? "";
    }
    for (const [name, found] of Object.entries(rows)) form[name] = Object.values(found);
    return { form, rows };
  }

  function remember({ form, drawn }) {
    // Not before what was kept stands in the fields.
    if (!drawn.restored && settled !== keyOf(drawn)) return;
    if (JSON.stringify([drawn.unit, form]) === untouched) localStorage.removeItem(keyOf(drawn));
    else localStorage.setItem(keyOf(drawn), JSON.stringify({ unit: drawn.unit, first: drawn.first, form }));
  }

  // A form drawn anew has its folded parts closed; those that somebody opened open again, but for lists to choose from.
  const folds = () => {
    const seen = {};
    return [...document.querySelectorAll("#bench-inputs details:not(.pick)")].map((part) => {
      const words = part.firstElementChild.textContent;
      seen[words] = (seen[words] || 0) + 1;
      return [`${words} ${seen[words]}`, part];
    });
  };
  const opened = new Set();
  document.addEventListener("toggle", ({ target }) => {
    const [name] = folds().find(([, part]) => part === target) || [];
    if (name) opened[target.open ? "add" : "delete"](name);
  }, true);
  const reopen = () => folds().forEach(([name, part]) => { if (opened.has(name)) part.open = true; });

  // A form drawn anew, or taken over by Dash, is of the moment of the tap: what was typed since then is put back. Rows
  // may have moved up.
  const typed = new Map();
  document.addEventListener("input", ({ target }) => {
    if (target.closest("#bench-inputs") && target.id.startsWith("{")) typed.set(target.id, target.value);
  }, true);
  document.addEventListener("click", ({ target }) => {
    if (target.closest('#bench-inputs button[id*=\'"act"\']')) typed.clear();
  }, true);

  function putBack() {
    for (const [text, value] of typed) {
      const id = JSON.parse(text);
      const place = document.getElementById(text);
      if (id.row === "" && place && place.value !== value) setProps(id, { value });
    }
  }

  async function gather(_values, drawn) {
    if (!drawn) return still();
    const mine = ++turn;
    const typing = latest !== null && latest.drawn === drawn && context().triggered.every(({ prop_id: id }) => id.includes('"field"'));
    const came = latest === null;
    if (came || latest.drawn !== drawn) {
      setTimeout(reopen);
      setTimeout(putBack);
    }
    latest = { ...formOf(context().inputs_list[0]), drawn };
    if (came) untouched = JSON.stringify([drawn.unit, latest.form]);
    // A cook was begun with it: the next form begins anew.
    if (context().triggered.some(({ value }) => value && value.answer && value.answer.to)) {
      localStorage.removeItem(keyOf(drawn));
      return still();
    }
    remember(latest);
    // The page came with what follows from it.
    if (came && drawn.worked) return still();
    if (typing) await new Promise((resolve) => setTimeout(resolve, WAIT_MS));
    if (mine !== turn) return still();
    const { sum, cook, unit } = drawn;
    return { sum, cook, unit, form: latest.form, asked: ++asked };
  }

  function restore(_started, drawn) {
    if (!drawn) return still();
    const kept = JSON.parse(localStorage.getItem(keyOf(drawn)) || "null");
    if (kept) return kept;
    settled = keyOf(drawn);
    return still();
  }

  // What a tap sends: the form, or the row that its button stands in.
  function gathered({ row, with: more = {}, ...body }) {
    const { form, rows, drawn } = latest;
    const { grams_of: gramsOf, ...rest } = more;
    const fields = { ...(row ? rows[row.split(".")[0]][row] : form), ...rest };
    if (gramsOf) fields.grams = fields[gramsOf];
    return { ...body, sum: drawn.sum, cook: drawn.cook, unit: drawn.unit, form: fields };
  }

  function hideLater() {
    clearTimeout(hiding);
    hiding = setTimeout(() => setProps("form-slate", { hidden: true }), TAKE_BACK_MS);
  }

  function kept() {
    const [{ prop_id: from, value }] = context().triggered;
    if (!value || !value.ok) return [still(), still(), still(), still()];
    const { send } = JSON.parse(from.slice(0, from.lastIndexOf(".")));
    hideLater();
    if (send === "form-back") return [false, "Taken back.", true, still()];
    if (value.answer.to) return [still(), still(), still(), still()];
    const [, row] = / (\w+\.\d+)$/.exec(decodeURIComponent(send)) || ["", ""];
    for (const name of value.answer.clear) setProps({ field: name, row }, { value: "" });
    const { uid, cook } = value.answer;
    return [false, value.answer.kept, !uid, { path: "/back", body: { cook, uid } }];
  }

  function print(clicks) {
    if (clicks) window.print();
    return still();
  }

  window.kettlesideForm = { gathered };
  Object.assign((window.dash_clientside ||= {}).kettleside ||= {}, { gather, restore, kept, print });
})();
