// Shows the figures of the run under the pointer, or at a place moved by the arrow keys. The page is whole without it.
"use strict";
(() => {
  const samples = JSON.parse(document.getElementById("samples").textContent);
  const figure = document.getElementById("run-figure");
  const picture = figure.querySelector("svg");
  const line = document.createElement("div");
  const said = document.createElement("p");
  line.className = "pointer";
  said.className = "read-out";
  said.setAttribute("aria-live", "polite");
  said.textContent = "Point at the picture, or move along it with the arrow keys, to read the figures.";
  figure.before(said);
  figure.append(line);
  figure.tabIndex = 0;
  const places = samples.rows.map((row) => row[0]);
  const [first, last] = [places[0], places[places.length - 1]];
  let at = 0;

  const show = (index) => {
    at = Math.min(Math.max(index, 0), places.length - 1);
    const share = (places[at] - first) / (last - first);
    const width = picture.getBoundingClientRect().width;
    line.style.left = `${width * (samples.left + share * (samples.right - samples.left))}px`;
    line.style.display = "block";
    said.textContent = samples.rows[at].map((cell, i) => `${samples.heads[i]} ${cell}`.trim()).join("   ");
  };

  figure.addEventListener("pointermove", (event) => {
    const box = picture.getBoundingClientRect();
    const share = ((event.clientX - box.left) / box.width - samples.left) / (samples.right - samples.left);
    const wanted = first + share * (last - first);
    let index = places.findIndex((place) => place >= wanted);
    if (index < 0) index = places.length - 1;
    show(index);
  });
  figure.addEventListener("keydown", (event) => {
    const step = { ArrowLeft: -1, ArrowRight: 1 }[event.key];
    if (step === undefined) return;
    event.preventDefault();
    show(at + step);
  });
})();
