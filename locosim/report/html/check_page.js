// Shows the values of the run at the pointer, or at a position moved by the arrow keys. The page is complete without it.
"use strict";
(() => {
  const samples = JSON.parse(document.getElementById("samples").textContent);
  const figure = document.getElementById("run-figure");
  const picture = figure.querySelector("svg");
  const pointer = document.createElement("div");
  const readout = document.createElement("p");
  pointer.className = "pointer";
  readout.className = "read-out";
  readout.setAttribute("aria-live", "polite");
  readout.textContent = "Point at the picture, or use the arrow keys, to read the values there.";
  figure.before(readout);
  figure.append(pointer);
  figure.tabIndex = 0;
  const distances = samples.rows.map((row) => row[0]);
  const [first, last] = [distances[0], distances[distances.length - 1]];
  let at = 0;

  const show = (index) => {
    at = Math.min(Math.max(index, 0), distances.length - 1);
    const share = (distances[at] - first) / (last - first);
    const width = picture.getBoundingClientRect().width;
    pointer.style.left = `${width * (samples.left + share * (samples.right - samples.left))}px`;
    pointer.style.display = "block";
    readout.textContent = samples.rows[at].map((cell, i) => `${samples.headers[i]} ${cell}`.trim()).join("   ");
  };

  figure.addEventListener("pointermove", (event) => {
    const box = picture.getBoundingClientRect();
    const share = ((event.clientX - box.left) / box.width - samples.left) / (samples.right - samples.left);
    const target = first + share * (last - first);
    let index = distances.findIndex((distance) => distance >= target);
    if (index < 0) index = distances.length - 1;
    show(index);
  });
  figure.addEventListener("keydown", (event) => {
    const step = { ArrowLeft: -1, ArrowRight: 1 }[event.key];
    if (step === undefined) return;
    event.preventDefault();
    show(at + step);
  });
})();
