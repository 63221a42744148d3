// Buttons: logs what a person did, and takes it back.
(() => {
  "use strict";
  const words = window.kettlesideWords;
  const card = window.kettlesideCard;
  let cook = null;
  let after = () => {};
  let last = null;

  async function post(path, body) {
    let answer;
    try {
      answer = await fetch(path, {
        method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body),
      });
    } catch {
      throw new Error("Not logged: no answer from kettleside. Try again.");
    }
    if (!answer.ok) throw new Error(await answer.text());
    return answer.json();
  }

  // movable: whether the person's memory of the time may be better than the tap.
  function strip(text, undoable, movable = undoable) {
    card.set("strip", { hidden: false });
    card.write("strip-words", text);
    card.set("undo", { hidden: !undoable });
    card.set("earlier", { hidden: !movable });
  }

  async function attempt(deed) {
    try {
      await deed();
    } catch (error) {
      strip(error.message, false);
    }
    after();
  }

  const log = (kind, fields) => attempt(async () => {
    const { uid, at } = await post("/log", { cook, kind, fields });
    last = { uid, text: words.logged(kind, fields.result || fields.text || "") };
    strip(`${last.text}, ${words.at(at)}`, true);
  });

  // An answer to a condition, which the strip under the thumb takes back like any event.
  const answer = (kind, fields, text) => attempt(async () => {
    const { uid } = await post("/log", { cook, kind, fields });
    last = { uid, text };
    strip(text, true, false);
  });

  const seen = (condition) => answer("acknowledged", { condition }, `Seen: ${condition}`);
  const putAside = (condition, minutes) =>
    answer("shelved", { condition, minutes }, `Put aside for ${minutes} min: ${condition}`);

  const showAgain = (uid) => attempt(async () => {
    await post("/back", { cook, uid });
    strip("Shown again", false);
  });

  // deed: keep or drop.
  const settle = (deed, noticed, from) => attempt(async () => {
    const { uid, at } = await post(`/${deed}`, { cook, noticed, at: from });
    last = { uid, text: deed === "keep" ? words.logged(noticed, "") : `Dropped: ${noticed}` };
    strip(`${last.text}, ${words.at(at)}`, true, false);
  });

  const undo = () => attempt(async () => {
    await post("/back", { cook, uid: last.uid });
    strip(`Taken back: ${last.text}`, false);
  });

  const earlier = () => attempt(async () => {
    const { uid, at } = await post("/earlier", { cook, uid: last.uid, by_s: 300 });
    last.uid = uid;
    strip(`${last.text}, ${words.at(at)}`, true);
  });

  async function newCook() {
    try {
      // After a finished cook the next one is on the same cooker.
      const begun = await post("/begin", { cook: cook || "" });
      location.assign(`/?cook=${encodeURIComponent(begun.cook)}`);
    } catch (error) {
      card.write("strip-words", error.message);
    }
  }

  const slips = () => document.querySelectorAll("dialog[open]");
  const closeAll = () => slips().forEach((slip) => slip.close());

  function keepNote() {
    const field = document.getElementById("note-text");
    const text = field.value.trim();
    if (!text) return field.focus();
    closeAll();
    card.set("note-text", { value: "" });
    return log("note", { text });
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
      log(data.log, data.result ? { result: data.result } : {});
    } else if (data.note) keepNote();
    else if (data.close) closeAll();
    else if (data.seen) seen(data.seen);
    else if (data.aside) putAside(data.aside, Number(data.minutes));
    else if (data.again) showAgain(data.again);
    else if (data.deed) settle(data.deed, data.noticed, Number(data.from));
    else if (button.id === "undo") undo();
    else if (button.id === "earlier") earlier();
    else if (button.id === "begin") newCook();
  });

  // Which buttons stand under the thumb.
  function offer(kinds, finished) {
    card.set("begin", { hidden: !finished });
    for (const button of document.querySelectorAll("#first > [id^='first-']")) {
      const kind = button.id.slice(6).replaceAll("-", " ");
      const place = kinds.indexOf(kind);
      card.set(button.id, place < 0 ? { hidden: true } : { hidden: false, style: { order: place } });
    }
  }

  function begin(name, whenDone) {
    cook = name;
    after = whenDone;
  }

  // A person in the middle of something is not to be disturbed.
  const busy = () => slips().length > 0 || document.querySelector("button:active, input:active") !== null;

  window.kettlesideHand = { begin, offer, busy, post };
})();
