// Sorts the table of site-years by the heading that is chosen, and narrows it down by a word of each column.
"use strict";
document.addEventListener("DOMContentLoaded", () => {
  const table = document.querySelector(".site-years table"), body = table.tBodies[0], rows = [...body.rows];
  const heads = [...table.tHead.rows[0].cells], words = heads.map((head) => head.textContent.trim());
  const cell = (row, column) => row.cells[column].textContent.trim();
  const asNumber = (text) => parseFloat((text.match(/[-\u2212]?[\d.,]+/) || [""])[0].replace("\u2212", "-").replaceAll(",", ""));
  const form = document.createElement("form"), status = document.createElement("p"), chosen = {};
  form.className = "narrow";
  status.setAttribute("role", "status");

  function show() {
    let shown = 0;
    rows.forEach((row) => {
      row.hidden = Object.entries(chosen).some(([column, word]) => word && cell(row, column) !== word);
      shown += row.hidden ? 0 : 1;
    });
    const told = (count) => count.toLocaleString("en-US");
    status.textContent = `${told(shown)} of ${told(rows.length)} site-years shown.`;
  }

  words.slice(0, -1).forEach((name, column) => {
    const label = document.createElement("label"), select = document.createElement("select");
    label.append(name + " ", select);
    select.append(new Option("all", ""), ...[...new Set(rows.map((row) => cell(row, column)))].sort().map((word) => new Option(word, word)));
    select.addEventListener("change", () => { chosen[column] = select.value; show(); });
    form.append(label);
  });

  heads.forEach((head, column) => {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = words[column];
    head.replaceChildren(button);
    button.addEventListener("click", () => {
      const down = head.getAttribute("aria-sort") === "ascending", isLast = column === heads.length - 1;
      heads.forEach((other) => other.removeAttribute("aria-sort"));
      head.setAttribute("aria-sort", down ? "descending" : "ascending");
      const key = (row) => isLast ? asNumber(cell(row, column)) : cell(row, column);
      const order = (a, b) => {
        const [left, right] = [key(a), key(b)];
        if (Number.isNaN(left) || Number.isNaN(right)) { return Number.isNaN(left) - Number.isNaN(right); } // none last
        return (left < right ? -1 : left > right ? 1 : 0) * (down ? -1 : 1);
      };
      body.append(...[...rows].sort(order));
    });
  });
  table.closest(".table-box").before(form, status);
  show();
});
