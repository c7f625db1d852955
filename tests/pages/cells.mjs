// What a table holds, cell by cell, found in another way than the page does: by the places of its cells.

// Run in the page: the cells of every table with a head. Digits in groups keep their unbreakable blanks.
function grids() {
  const words = (cell) => {
    const copy = cell.cloneNode(true);
    for (const line of copy.querySelectorAll("br")) line.replaceWith(" ");
    return copy.textContent.replaceAll("\u00a0", "\u0001").trim().replace(/\s+/g, " ").replaceAll("\u0001", "\u00a0");
  };
  const grid = (table) => {
    const taken = new Map();
    [...table.rows].forEach((row, r) => {
      let c = 0;
      for (const cell of row.cells) {
        while (taken.has(`${r} ${c}`)) c += 1;
        for (let i = 0; i < cell.rowSpan; i += 1) for (let j = 0; j < cell.colSpan; j += 1) taken.set(`${r + i} ${c + j}`, words(cell));
      }
    });
    const columns = 1 + Math.max(...[...taken.keys()].map((place) => Number(place.split(" ")[1])));
    return [...table.rows].map((_, r) => Array.from({ length: columns }, (__, c) => taken.get(`${r} ${c}`) ?? ""));
  };
  return [...document.querySelectorAll("table")].filter((table) => table.tHead).map(grid);
}

export async function tables(page) {
  return page.evaluate(grids);
}

// A cell as a spreadsheet must get it: a number without groups, and no formula (OWASP, "CSV Injection").
export function safe(cell) {
  const bare = cell.replaceAll("\u2212", "-").replaceAll("\u00a0", "");
  if (bare !== "" && /^[-+.\d]+$/.test(bare) && Number.isFinite(Number(bare))) return bare;
  const text = cell.replaceAll("\u2212", "-").replaceAll("\u00a0", " ");
  const computes = text.split(" ").some((word) => !/^[-+]?[\d.]*$/.test(word) && !/^[\p{L}%°]+$/u.test(word)) || !/^[-+]?[\d.]*\d/.test(text);
  return /^'*[-=+@]/.test(text) && computes ? `'${text}` : text;
}

// Rows of a CSV text (RFC 4180).
export function rows_of(text) {
  const rows = [[]];
  for (const [, quoted, bare, end] of text.matchAll(/(?:"((?:[^"]|"")*)"|([^",\r\n]*))(,|\r?\n|$)/g)) {
    rows.at(-1).push(quoted === undefined ? bare : quoted.replaceAll('""', '"'));
    if (end === "") break;
    if (end !== ",") rows.push([]);
  }
  // The text ends with the end of its last row.
  rows.pop();
  return rows;
}

// Where two tables differ first, in words; nothing where they do not.
export function difference(name, wanted, found) {
  if (wanted.length !== found.length) return [`${name} has ${found.length} rows, not ${wanted.length}`];
  for (const [r, row] of wanted.entries()) {
    const c = row.findIndex((cell, n) => cell !== found[r][n]);
    if (c >= 0 || row.length !== found[r].length) return [`${name} has "${found[r][c]}" where "${row[c]}" belongs, in row ${r + 1}`];
  }
  return [];
}
