// The comparison: its picture to keep.
(() => {
  "use strict";
  // What a drawing needs to look the same on its own.
  const KEPT = ["fill", "fill-opacity", "stroke", "stroke-width", "stroke-dasharray", "stroke-linejoin", "opacity", "font-size", "font-family", "font-weight"];
  const PNG_SCALE = 2;

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

  document.addEventListener("click", (event) => {
    const data = event.target.closest("button")?.dataset;
    if (data?.save) save(data.save, document.getElementById(data.of), data.name);
  });
})();
