(function () {
  "use strict";
  var table = document.getElementById("list");
  var input = document.getElementById("q");
  var count = document.getElementById("count");
  var figure = document.getElementById("figure");
  var picks = { class: document.getElementById("class"), kind: document.getElementById("kind") };
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
  var texts = rows.map(function (row) { return plain(row.textContent + " " + row.parentNode.rows[0].textContent); });

  Object.keys(picks).forEach(function (name) {
    var words = Array.from(new Set(rows.map(function (row) { return row.dataset[name]; })));
    words.sort(function (a, b) { return a.localeCompare(b, language); }).forEach(function (word) {
      picks[name].append(new Option(word, word));
    });
    picks[name].addEventListener("change", search);
  });

  function search() {
    var asked = plain(input.value).split(/\s+/).filter(Boolean);
    var shown = 0;
    rows.forEach(function (row, at) {
      var fits = asked.every(function (word) { return texts[at].includes(word); }) &&
        (!picks.class.value || row.dataset.class === picks.class.value) &&
        (!picks.kind.value || row.dataset.kind === picks.kind.value) &&
        (!figure.checked || row.dataset.figure === "1");
      row.hidden = !fits;
      shown += fits ? 1 : 0;
    });
    bodies.forEach(function (body) { body.hidden = !body.querySelector("tr:not(.group):not([hidden])"); });
    count.textContent = count.dataset.said.replace("[shown]", shown).replace("[all]", rows.length);
  }

  function sort(head, column) {
    var before = head.getAttribute("aria-sort");
    var next = before === "ascending" ? "descending" : before === "descending" ? null : "ascending";
    Array.from(table.tHead.rows[0].cells).forEach(function (cell) { cell.removeAttribute("aria-sort"); });
    if (next === null) {
      rows.forEach(function (row, at) { homes[at].append(row); });
    } else {
      head.setAttribute("aria-sort", next);
      var way = next === "ascending" ? 1 : -1;
      var compare = new Intl.Collator(language, { numeric: true }).compare;
      rows.map(function (row) { return [row.cells[column].textContent, row]; })
        .sort(function (a, b) { return way * compare(a[0], b[0]); })
        .forEach(function (pair) { sorted.append(pair[1]); });
    }
    sorted.hidden = next === null;
    search();
  }

  Array.from(table.tHead.rows[0].cells).forEach(function (head, column) {
    var button = document.createElement("button");
    button.type = "button";
    button.textContent = head.textContent;
    button.title = table.dataset.sort + ": " + head.textContent;
    button.addEventListener("click", function () { sort(head, column); });
    head.replaceChildren(button);
  });

  var waiting;
  input.addEventListener("input", function () { clearTimeout(waiting); waiting = setTimeout(search, 150); });
  figure.addEventListener("change", search);
  var form = document.getElementById("find");
  form.addEventListener("submit", function (event) { event.preventDefault(); search(); });
  form.hidden = false;
  table.classList.add("ready");
}());
