// A calibration led dip by dip.
(() => {
  "use strict";
  const cook = document.body.dataset.cook;
  const all = (selector, within = document) => [...within.querySelectorAll(selector)];
  const byId = (id) => document.getElementById(id);
  const { ask, again, surely } = window.kettlesideAsk;
  // Asked again a second after each answer while the page is looked at.
  const pause = () => 1000;
  const old = (error) => (error.status ? error.message : "No answer from kettleside; what stands here may be old.");

  function tell(place, words) {
    if (place.textContent !== words) place.textContent = words;
    place.hidden = !words;
  }

  function guide(form) {
    const { what, channel } = form.dataset;
    const kept = `probe ${cook} ${what} ${channel}`;
    let begun = [];
    let running = false;
    let done = null;
    let unheard = false;

    const fields = () => Object.fromEntries(new FormData(form));
    const show = (id, there) => { byId(id).hidden = !there; };

    function steps() {
      const form = fields();
      if (what === "sample") return [["The sample", "Rinse the probe with distilled water, dab it dry, dip it into the cooled sample and stir."]];
      const rinse = "Rinse the probe with distilled water and dab it dry.";
      if (what === "buffers") {
        return [form.buffer_1, form.buffer_2, form.buffer_3].filter(Boolean)
          .map((name) => [`pH ${name}`, `${rinse} Dip it into the pH ${name} buffer, stir, and hold it still.`]);
      }
      const ice = ["Ice water", "Fill a cup with crushed ice, top it up with water, stir, and hold the tip in its middle."];
      const boiling = ["Boiling water", "Hold the tip in water at a rolling boil, off the pot's bottom, hands out of the steam."];
      return { both: [ice, boiling], ice: [ice], boiling: [boiling] }[form.baths];
    }

    // A phone that locks or loads the page again goes on where it was.
    function remember() {
      if (running) sessionStorage.setItem(kept, JSON.stringify({ begun, fields: fields() }));
      else sessionStorage.removeItem(kept);
    }

    function recall() {
      const text = sessionStorage.getItem(kept);
      if (!text) return;
      const was = JSON.parse(text);
      for (const [name, value] of Object.entries(was.fields)) {
        for (const field of all(`[name="${name}"]`, form)) {
          if (field.type === "radio") field.checked = field.value === value;
          else field.value = value;
        }
      }
      begun = was.begun;
      running = true;
    }

    function draw(said) {
      const plan = steps();
      const last = said.dips[said.dips.length - 1];
      const failed = last !== undefined && last[0] === "failed";
      const waiting = last !== undefined && last[0] === "settling";
      const trouble = said.wrong || (failed ? last[1] : "");
      const next = running && !done && !trouble && !waiting && said.dips.length < plan.length;
      tell(byId("signal-now"), said.now || "nothing comes");
      show("plan", !running && !done);
      show("work", running && !done);
      show("step", next || (running && waiting));
      show("step-words", next);
      show("dipped", next);
      show("over", running || done);
      show("dip-again", running && !done && trouble !== "");
      show("judged", running && !done && said.verdict !== "");
      show("kept", Boolean(done));
      if (running || unheard) tell(byId("refused"), trouble);
      unheard = false;
      tell(byId("settling"), waiting ? last[1] : "");
      byId("verdict").textContent = said.verdict;
      const lines = said.dips.filter(([state]) => state === "steady").map(([, words]) => `Steady: ${words}`);
      const list = byId("dips");
      if (list.children.length !== lines.length) {
        list.replaceChildren(...lines.map((words) => Object.assign(document.createElement("li"), { textContent: words })));
      }
      if (next || waiting) {
        const place = said.dips.length - (waiting ? 1 : 0);
        const [title, words] = plan[place];
        byId("step-title").textContent = plan.length > 1 ? `${place + 1} of ${plan.length}: ${title}` : title;
        byId("step-words").textContent = words;
      }
    }

    const body = () => ({ cook, what, channel, form: fields(), begun });

    const turn = again(async (signal, limit) => {
      try {
        // Before it begins there is nothing but the signal to ask for: a form half filled in is nobody's fault.
        const said = await ask("/probe-dips", { body: running ? body() : { cook, channel, what: "" }, limit, signal });
        // Taps made while the answer was under way are asked for next time.
        begun = begun.map((moment, place) => (moment === "now" && said.begun[place] !== undefined ? said.begun[place] : moment));
        remember();
        if (said.begun.length === begun.length) draw(said);
      } catch (error) {
        unheard = true;
        tell(byId("refused"), old(error));
        show("over", running);
        throw error;
      }
    }, { pause });

    function onward() {
      remember();
      tell(byId("refused"), "");
      turn();
    }

    const deeds = {
      start: async () => {
        // A plan that cannot be right is refused before anything is rinsed.
        await ask("/probe-dips", { body: { ...body(), begun: [] } });
        running = true;
        onward();
      },
      dipped: () => { begun = [...begun, "now"]; show("step", false); onward(); },
      "dip-again": () => { begun = [...begun.slice(0, -1), "now"]; show("dip-again", false); onward(); },
      over: () => { begun = []; running = false; done = null; onward(); },
      keep: async () => {
        done = await surely("/probe-keep", body());
        byId("kept-words").textContent = done.kept;
        running = false;
        begun = [];
        show("judged", false);
        show("take-it-back", true);
        onward();
      },
      "take-it-back": async () => {
        await surely(done.event ? "/back" : "/probe-back", { cook, uid: done.uid });
        byId("kept-words").textContent = "Taken back.";
        show("take-it-back", false);
      },
    };
    form.addEventListener("click", async (event) => {
      const button = event.target.closest("button");
      if (!button) return;
      try {
        await deeds[button.id]();
      } catch (error) {
        tell(byId("refused"), error.status ? error.message : `${error.message} Tap again.`);
      }
    });
    form.addEventListener("submit", (event) => event.preventDefault());
    recall();
    turn();
  }

  const form = byId("guide");
  if (form) guide(form);
})();
