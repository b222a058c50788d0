"use strict";
// Read a day of a chart: with the mouse, a finger, or the keys of the slider. The table is the source.
for (const figure of document.querySelectorAll(".days")) {
  const svg = figure.querySelector("svg");
  const cursor = svg.querySelector(".cursor");
  const slider = figure.querySelector("input");
  const reading = figure.querySelector(".reading");
  const text = figure.querySelector(".rows");
  const table = document.createElement("table");
  for (const [at, line] of text.textContent.trim().split("\n").entries()) {
    const row = (at ? table.tBodies[0] || table.createTBody() : table.createTHead()).insertRow();
    for (const [i, words] of line.split("\t").entries()) {
      const cell = document.createElement(at && i ? "td" : "th");
      cell.textContent = words;
      if (!at) cell.scope = "col";
      row.append(cell);
    }
  }
  text.replaceWith(table);
  const heads = [...figure.querySelectorAll("thead th")].map((cell) => cell.textContent.trim().split(/, (?=[^,]*$)/));
  const rows = figure.querySelectorAll("tbody tr");
  const left = Number(svg.dataset.left);
  const wide = Number(svg.dataset.wide);

  const read = (day) => {
    const at = Math.min(Math.max(day, 0), rows.length - 1);
    const cells = [...rows[at].children].map((cell) => cell.textContent.trim());
    const parts = cells
      .map((text, i) => (i && text ? `${heads[i][0]} ${text} ${heads[i][1] || ""}`.trim() : text))
      .filter((text) => text);
    reading.replaceChildren(...parts.map((text, i) => {
      const part = document.createElement(i ? "span" : "b");
      part.textContent = i ? text : `${text}: `;
      return part;
    }));
    slider.value = at;
    slider.setAttribute("aria-valuetext", parts.join(", "));
    const x = left + ((at + 0.5) * wide) / rows.length;
    cursor.setAttribute("transform", `translate(${x} 0)`);
    cursor.setAttribute("visibility", "visible");
  };
  const point = (event) => {
    const box = svg.getBoundingClientRect();
    const x = ((event.clientX - box.left) / box.width) * svg.viewBox.baseVal.width;
    read(Math.floor(((x - left) / wide) * rows.length));
  };
  svg.addEventListener("pointermove", point);
  svg.addEventListener("pointerdown", point);
  slider.addEventListener("input", () => read(slider.valueAsNumber));
  figure.querySelector(".interactive").hidden = false;
  read(Number(slider.dataset.first || Math.floor(rows.length / 2)));
}
