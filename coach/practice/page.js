"use strict";
(() => {
  const body = document.querySelector("tbody");
  const rows = [...body.rows];
  const status = document.getElementById("shown");
  const search = document.getElementById("search");
  const order = document.getElementById("order");
  const heads = [...document.querySelectorAll("thead th[data-by]")];
  const value = (row, by) => row.dataset[by];
  const arrange = (by, down) => {
    const numeric = by === "rank" || by === "weight";
    const compare = (a, b) => {
      const [x, y] = [value(a, by), value(b, by)];
      if (x === y) return a.dataset.rank - b.dataset.rank;
      if (x === "") return 1;
      if (y === "") return -1;
      const told = numeric ? x - y : x.localeCompare(y);
      return down ? -told : told;
    };
    body.append(...rows.sort(compare));
    for (const head of heads) {
      if (head.dataset.by === by) head.setAttribute("aria-sort", down ? "descending" : "ascending");
      else head.removeAttribute("aria-sort");
    }
    order.value = by;
  };
  for (const head of heads) {
    head.querySelector("button").addEventListener("click", () =>
      arrange(head.dataset.by, head.getAttribute("aria-sort") === "ascending"));
  }
  order.addEventListener("change", () => arrange(order.value, false));
  const find = () => {
    const words = search.value.toLowerCase().split(/\s+/).filter(Boolean);
    let count = 0;
    for (const row of rows) {
      const text = row.textContent.toLowerCase();
      row.hidden = !words.every((word) => text.includes(word));
      count += row.hidden ? 0 : 1;
    }
    status.textContent = `${count} of ${rows.length} dogs shown`;
  };
  search.addEventListener("input", find);
  document.querySelector(".tools").hidden = false;
  find();
})();
