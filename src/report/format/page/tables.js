// Tables that sort, filter and copy.
{
  // A line break is a blank; digits in groups keep what holds them together.
  const inside = (node) => node.nodeName === "BR" ? " " : node.nodeType === 3 ? node.data : [...node.childNodes].map(inside).join("");
  const text = (cell) => inside(cell).replace(/[^\S\u00a0]+/g, " ").trim();
  // "−1 234.5 %" is −1234.5; anything else sorts as text.
  const value = (cell) => {
    const match = text(cell).replace(/\u2212/g, "-").match(/^[<>]?\s*(-?\d[\d\s]*(?:\.\d+)?)/);
    return match ? Number(match[1].replace(/\s/g, "")) : NaN;
  };

  // Cells of a table as rows of texts, those that span several repeated.
  const grid = (table) => {
    const rows = [...table.rows];
    const cells = rows.map(() => []);
    rows.forEach((row, r) => {
      let c = 0;
      for (const cell of row.cells) {
        while (cells[r][c] !== undefined) c += 1;
        for (let i = 0; i < cell.rowSpan; i += 1)
          for (let j = 0; j < cell.colSpan; j += 1) if (cells[r + i]) cells[r + i][c + j] = text(cell);
      }
    });
    return cells;
  };
  // A number loses what groups its digits. A cell that a spreadsheet would take for a formula stays a
  // text; an amount, numbers with words such as units, is none.
  const number = (word) => /^[+-]?(\d+\.?\d*|\.\d+)$/.test(word);
  const harmless = (cell) => {
    const ascii = cell.replace(/\u2212/g, "-");
    const bare = ascii.replace(/\u00a0/g, "");
    if (number(bare)) return bare;
    const plain = ascii.replace(/\u00a0/g, " ");
    const [first, ...words] = plain.split(" ");
    const amount = number(first) && words.every((word) => number(word) || /^[\p{L}%°]*$/u.test(word));
    return /^'*[=+@\t\r-]/.test(plain) && !amount ? "'" + plain : plain;
  };
  const csv = (table) =>
    grid(table)
      .map((row) => row.map((cell) => '"' + harmless(cell || "").replace(/"/g, '""') + '"').join(","))
      .join("\r\n") + "\r\n";
  const tabs = (table) => grid(table).map((row) => row.map(harmless).join("\t")).join("\n");

  const sort = (table, column, head) => {
    const up = head.getAttribute("aria-sort") !== "ascending";
    const body = table.tBodies[0];
    const order = (a, b) => {
      const [x, y] = [a.cells[column], b.cells[column]];
      const [m, n] = [value(x), value(y)];
      const words = text(x).localeCompare(text(y), "en");
      const numbers = Number.isNaN(m) ? (Number.isNaN(n) ? 0 : 1) : Number.isNaN(n) ? -1 : m - n;
      const less = numbers || words;
      return up ? less : -less;
    };
    [...body.rows].sort(order).forEach((row) => body.append(row));
    for (const other of head.parentNode.cells) other.removeAttribute("aria-sort");
    head.setAttribute("aria-sort", up ? "ascending" : "descending");
  };

  const tools = (frame) => {
    const table = frame.querySelector("table");
    const name = frame.getAttribute("aria-label") || "table";
    const bar = make("p", { className: "tools" });
    const rows = [...table.tBodies[0].rows];
    const plain = rows.length > 2 && !table.querySelector("[rowspan],[colspan]");
    if (plain) {
      [...table.tHead.rows[table.tHead.rows.length - 1].cells].forEach((head, column) => {
        const button = make("button", { type: "button", onclick: () => sort(table, column, head) });
        button.append(...head.childNodes);
        head.append(button);
      });
    }
    if (plain && rows.length > 8) {
      const input = make("input", { type: "search", size: 14 });
      input.oninput = () => {
        const wanted = input.value.toLowerCase();
        for (const row of rows) row.hidden = !text(row).replace(/\u00a0/g, " ").toLowerCase().includes(wanted);
      };
      bar.append(make("label", {}, "Rows with ", input));
    }
    const copy = copier("Copy", () => tabs(table));
    const file = name.toLowerCase().replace(/[^a-z0-9]+/g, "-").slice(0, 48).replace(/^-|-$/g, "") + ".csv";
    bar.append(copy, make("button", { type: "button", onclick: () => save(file, csv(table)) }, "CSV"));
    bar.querySelectorAll("button").forEach((b) => b.setAttribute("aria-label", b.textContent + ": " + name));
    frame.before(bar);
  };

  document.querySelectorAll(".frame").forEach(tools);
}
