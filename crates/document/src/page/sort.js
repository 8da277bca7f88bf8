"use strict";
// Sorts tables by a press on a column's head: upwards, downwards, then back to the order given.
for (const table of document.querySelectorAll("table")) {
  const headers = [...table.tHead.rows[0].cells];
  const body = table.tBodies[0];
  const given = [...body.rows];
  const next = { none: "ascending", ascending: "descending", descending: "none" };

  const compare = (column, order) => (first, second) => {
    const [a, b] = [first.cells[column], second.cells[column]];
    const [hasA, hasB] = [a, b].map((cell) => "sort" in cell.dataset);
    if (hasA !== hasB) return hasA ? -1 : 1;
    const difference = hasA
      ? Number(a.dataset.sort) - Number(b.dataset.sort)
      : a.textContent.localeCompare(b.textContent, "en", { numeric: true });
    return order === "ascending" ? difference : -difference;
  };

  headers.forEach((header, column) => {
    const button = document.createElement("button");
    button.type = "button";
    button.append(...header.childNodes);
    header.append(button);
    header.setAttribute("aria-sort", "none");
    button.addEventListener("click", () => {
      const order = next[header.getAttribute("aria-sort")];
      for (const other of headers) other.setAttribute("aria-sort", "none");
      header.setAttribute("aria-sort", order);
      body.append(...(order === "none" ? given : [...given].sort(compare(column, order))));
    });
  });
}

// A box that needs no scrolling is no stop for the keyboard, and lets the head of its table stay in view.
for (const box of document.querySelectorAll(".scroll")) {
  const measure = () => {
    const fits = box.scrollWidth <= box.clientWidth;
    box.classList.toggle("fits", fits);
    if (fits) box.removeAttribute("tabindex");
    else box.tabIndex = 0;
  };
  measure();
  new ResizeObserver(measure).observe(box);
}
