// The pages of past cooks: times in the viewer's zone, pictures to keep, deleting and putting back.
(() => {
  "use strict";
  const words = window.kettlesideWords;
  const { ask } = window.kettlesideAsk;
  // What a drawing needs to look the same on its own.
  const KEPT = ["fill", "fill-opacity", "stroke", "stroke-width", "stroke-dasharray", "stroke-linejoin", "opacity", "font-size", "font-family", "font-weight"];
  const PNG_SCALE = 2;

  function tell(root) {
    for (const place of root.querySelectorAll("[data-at]")) place.textContent = words.onDay(Number(place.dataset.at));
    for (const place of root.querySelectorAll("[data-clock]")) place.textContent = words.at(Number(place.dataset.clock));
    for (const place of root.querySelectorAll("[data-span]")) place.textContent = words.span(Number(place.dataset.span));
  }

  const post = (path, body) => ask(path, { body }).catch((error) => {
    throw error.status ? error : new Error(`${error.message} Try again.`);
  });

  // The drawing as a file of its own: its styles written out, its paper under it.
  function alone(drawing) {
    const copy = drawing.cloneNode(true);
    const [before, after] = [drawing, copy].map((root) => [root, ...root.querySelectorAll("*")]);
    before.forEach((element, i) => {
      const style = getComputedStyle(element);
      after[i].removeAttribute("class");
      for (const name of KEPT) after[i].style.setProperty(name, style.getPropertyValue(name));
    });
    const box = drawing.viewBox.baseVal;
    copy.setAttribute("xmlns", "http:" + "//www.w3.org/2000/svg");
    copy.setAttribute("width", box.width);
    copy.setAttribute("height", box.height);
    const paper = document.createElementNS(drawing.namespaceURI, "rect");
    for (const [name, value] of Object.entries({ width: box.width, height: box.height, fill: getComputedStyle(document.documentElement).backgroundColor })) paper.setAttribute(name, value);
    copy.prepend(paper);
    return { text: new XMLSerializer().serializeToString(copy), width: box.width, height: box.height };
  }

  function hand(url, name) {
    const link = Object.assign(document.createElement("a"), { href: url, download: name });
    document.body.append(link);
    link.click();
    link.remove();
  }

  async function save(kind, drawing, name) {
    const { text, width, height } = alone(drawing);
    const svg = `data:image/svg+xml;charset=utf-8,${encodeURIComponent(text)}`;
    if (kind === "svg") return hand(svg, `${name}.svg`);
    const picture = Object.assign(new Image(), { src: svg });
    await picture.decode();
    const canvas = Object.assign(document.createElement("canvas"), { width: width * PNG_SCALE, height: height * PNG_SCALE });
    canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
    return hand(canvas.toDataURL("image/png"), `${name}.png`);
  }

  const sure = document.getElementById("sure");
  let asked = null;

  function slate(text) {
    document.getElementById("slate").hidden = false;
    document.getElementById("slate-words").textContent = text;
  }

  async function remove() {
    sure.close();
    try {
      await post("/cooks/delete", { cook: asked });
      for (const row of document.querySelectorAll("[data-cook]")) if (row.dataset.cook === asked) row.remove();
      slate("Deleted. It can be put back for a day.");
      document.getElementById("put-back").hidden = false;
      document.getElementById("put-back").focus();
    } catch (error) {
      slate(error.message);
      document.getElementById("put-back").hidden = true;
    }
  }

  const back = (cook) => post("/cooks/put-back", { cook }).then(() => location.reload(), (error) => slate(error.message));

  document.addEventListener("click", (event) => {
    const button = event.target.closest("button");
    if (!button) return;
    const data = button.dataset;
    if (data.save) save(data.save, document.getElementById(data.of), data.name);
    else if (data.delete) {
      asked = data.delete;
      document.getElementById("sure-which").textContent = data.title;
      sure.showModal();
    } else if (button.id === "sure-yes") remove();
    else if (data.close !== undefined) sure.close();
    else if (button.id === "put-back") back(asked);
    else if (data.putBack) back(data.putBack);
  });

  tell(document);
  window.kettlesidePast = { tell };
})();
