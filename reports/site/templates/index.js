(function () {
  "use strict";
  var table = document.getElementById("list");
  var input = document.getElementById("q");
  var count = document.getElementById("count");
  var bodies = Array.from(table.tBodies);
  var rows = Array.from(table.querySelectorAll("tbody tr:not(.group)"));
  var homes = rows.map(function (row) { return row.parentNode; });
  var language = document.documentElement.lang;
  var sorted = document.createElement("tbody");
  sorted.setAttribute("role", "rowgroup");
  sorted.hidden = true;
  table.append(sorted);

  function plain(text) {
    return text.normalize("NFD").replace(/[\u0300-\u036f]/g, "").toLowerCase();
  }
  // What a row says itself: the links to its further pages are the same in every row and match nothing.
  function own(row) {
    return Array.from(row.cells).slice(0, -1).map(function (cell) { return cell.textContent; }).join(" ");
  }
  var texts = rows.map(function (row) {
    return plain(own(row) + " " + (row.dataset.also || "") + " " + row.parentNode.rows[0].textContent);
  });

  function search() {
    var asked = plain(input.value).split(/\s+/).filter(Boolean);
    var shown = 0;
    rows.forEach(function (row, at) {
      row.hidden = !asked.every(function (word) { return texts[at].includes(word); });
      shown += row.hidden ? 0 : 1;
    });
    bodies.forEach(function (body) {
      body.hidden = !body.querySelector("tr:not(.group):not([hidden])");
    });
    count.textContent = count.dataset.said.replace("{count}", shown).replace("{all}", rows.length);
  }

  function key(row, column) {
    var cell = row.cells[column];
    return column === row.cells.length - 2 ? row.dataset.sure : cell.textContent;
  }
  var kinds = ["figures", "words", "none"];

  function sort(head, column) {
    var before = head.getAttribute("aria-sort");
    var next = before === "ascending" ? "descending" : before === "descending" ? null : "ascending";
    Array.from(table.tHead.rows[0].cells).forEach(function (cell) { cell.removeAttribute("aria-sort"); });
    if (next === null) {
      rows.forEach(function (row, at) { homes[at].append(row); });
    } else {
      head.setAttribute("aria-sort", next);
      var way = next === "ascending" ? 1 : -1;
      rows.slice().sort(function (a, b) {
        var last = column > 0 ? kinds.indexOf(a.className) - kinds.indexOf(b.className) : 0;
        return last || way * key(a, column).localeCompare(key(b, column), language, { numeric: true });
      }).forEach(function (row) { sorted.append(row); });
    }
    sorted.hidden = next === null;
    search();
  }

  Array.from(table.tHead.rows[0].cells).forEach(function (head, column) {
    if ("plain" in head.dataset) { return; }
    var button = document.createElement("button");
    button.type = "button";
    button.textContent = head.textContent;
    button.title = table.dataset.sort + ": " + head.textContent;
    button.addEventListener("click", function () { sort(head, column); });
    head.replaceChildren(button);
  });

  var waiting;
  input.addEventListener("input", function () { clearTimeout(waiting); waiting = setTimeout(search, 120); });
  var form = document.getElementById("find");
  form.addEventListener("submit", function (event) { event.preventDefault(); search(); });
  form.hidden = false;
  table.classList.add("ready");
}());
