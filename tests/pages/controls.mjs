// Controls: all are reached by keyboard, and change what they should. A check of another kind of control
// is a function of the page that gives its defects, and a line in CONTROLS.

import { readFile, writeFile } from "node:fs/promises";

import { difference, rows_of, safe, tables } from "./cells.mjs";

// `details` open by Enter and close by the space bar.
async function details_open_by_keyboard(page) {
  const found = [];
  const number = await page.evaluate(() => document.querySelectorAll("details").length);
  for (let n = 0; n < number; n += 1) {
    const name = await page.evaluate((which) => {
      const details = document.querySelectorAll("details")[which];
      // One within another is only there where that is open.
      for (let outer = details.parentElement?.closest("details"); outer; outer = outer.parentElement?.closest("details")) outer.open = true;
      details.querySelector(":scope > summary")?.focus();
      return details.querySelector(":scope > summary")?.textContent.trim() ?? "";
    }, n);
    for (const key of ["Enter", " "]) {
      const open = (which) => document.querySelectorAll("details")[which].open;
      const before = await page.evaluate(open, n);
      await page.press(key, key === " " ? "Space" : key);
      if ((await page.evaluate(open, n)) === before) found.push(`"${name}" does not heed ${key === " " ? "the space bar" : key}`);
    }
  }
  return found;
}

// Run in the page. Everything that can be used by keyboard, in the order of the text; what is met from
// now on is kept.
function begin_to_listen() {
  const all = [...document.querySelectorAll("a[href], button, input, select, textarea, summary, [tabindex]")];
  const usable = all.filter((one) => one.tabIndex >= 0 && !one.disabled && one.getClientRects().length > 0 && one.checkVisibility({ visibilityProperty: true }));
  // One radio button stands for all of its group.
  const stands_for = (one) => (one.type === "radio" ? `radio ${one.name}` : one);
  const met = [];
  addEventListener("focusin", ({ target }) => met.push(target));
  globalThis.keyboard = { expected: [...new Map(usable.map((one) => [stands_for(one), one])).values()], met, stands_for };
  // From the beginning of the page.
  document.body.tabIndex = -1;
  document.body.focus();
  document.body.removeAttribute("tabindex");
  met.length = 0;
  return globalThis.keyboard.expected.length;
}

function not_met() {
  const { expected, met, stands_for } = globalThis.keyboard;
  const name = (one) => (one ? `<${one.localName}> "${(one.getAttribute("aria-label") ?? one.textContent).trim().slice(0, 60)}"` : "nothing");
  const n = expected.findIndex((one, place) => !met[place] || stands_for(one) !== stands_for(met[place]));
  return n < 0 ? [] : [`Tab leads to ${name(met[n])} where ${name(expected[n])} follows`];
}

// The key Tab leads through everything that can be used, in the order of the text.
async function tab_leads_through_all(page) {
  const number = await page.evaluate(begin_to_listen);
  await Promise.all(Array.from({ length: number }, () => page.press("Tab")));
  return page.evaluate(not_met);
}

// Run in the page: the rows of a table whose columns can be sorted, and how its second column is sorted.
function sortable(n) {
  const table = [...document.querySelectorAll("table")].filter((one) => one.querySelectorAll("thead button").length > 1)[n];
  if (!table) return null;
  for (let outer = table.closest("details"); outer; outer = outer.parentElement?.closest("details")) outer.open = true;
  const button = table.querySelectorAll("thead button")[1];
  button.focus();
  const { cellIndex, ariaSort } = button.closest("th");
  const rows = [...table.tBodies[0].rows];
  return { order: ariaSort, cells: rows.map((row) => row.cells[cellIndex].textContent.trim()), rows: rows.map((row) => row.textContent), name: table.closest("[aria-label]")?.ariaLabel ?? "" };
}

// The button in the head of a column sorts the table upwards, then downwards, and loses no row.
async function tables_sort(page) {
  const found = [];
  for (let n = 0; n < 3; n += 1) {
    const before = await page.evaluate(sortable, n);
    if (before === null) break;
    await page.press("Enter");
    const up = await page.evaluate(sortable, n);
    await page.press("Enter");
    const down = await page.evaluate(sortable, n);
    const kept = [up, down].every((now) => [...now.rows].sort().join("\n") === [...before.rows].sort().join("\n"));
    if (!kept) found.push(`rows of "${before.name}" are lost or changed as it is sorted`);
    if (up.order !== "ascending" || down.order !== "descending") found.push(`"${before.name}" does not tell how it is sorted`);
    const differ = new Set(before.cells).size > 1;
    if (differ && up.cells.join("\n") === down.cells.join("\n")) found.push(`"${before.name}" is the same upwards and downwards`);
  }
  return found;
}

// A search field above a table leaves the rows that hold its words.
async function tables_filter(page) {
  const find = (wanted) => {
    const field = document.querySelector(".tools input[type=search]");
    if (!field) return null;
    for (let outer = field.closest("details"); outer; outer = outer.parentElement?.closest("details")) outer.open = true;
    field.focus();
    const frame = field.closest(".tools").nextElementSibling;
    const rows = [...frame.querySelector("table").tBodies[0].rows];
    const text = (row) => row.textContent.trim().replace(/\s+/g, " ").toLowerCase();
    const words = wanted ?? text(rows[0].cells[0]);
    const right = rows.every((row) => row.hidden !== text(row).includes(words));
    return { words, right, all: rows.every((row) => !row.hidden) };
  };
  const before = await page.evaluate(find, null);
  if (before === null) return [];
  await page.send("Input.insertText", { text: before.words });
  const during = await page.evaluate(find, before.words);
  await page.evaluate(() => document.activeElement.select());
  await page.send("Input.insertText", { text: "" });
  const after = await page.evaluate(find, before.words);
  return [
    ...(before.all && during.right ? [] : [`rows that hold "${before.words}" are not those that are left`]),
    ...(after.all ? [] : ["rows stay away as the search is emptied"]),
  ];
}

// The figure of other limits: its controls, what they say, and what is drawn.
const chooser = () => {
  const box = document.querySelector("[data-limits]");
  if (!box) return null;
  const [quantity, arrangement, point] = box.querySelectorAll("select");
  const svg = box.parentElement.querySelector("svg");
  const line = svg.querySelector(".moved-limit");
  return {
    choices: [quantity, arrangement, point].map((select) => [...select.options].map((option) => (option.disabled ? null : option.textContent))),
    said: box.querySelector("output").textContent,
    number: box.querySelector("input[type=number]").value,
    at: Number(line.getAttribute("x1")),
    drawn: [...svg.querySelectorAll("path.area, path.line")].map((path) => path.getAttribute("d")).join("|"),
  };
};
const choose = (which, value) => {
  const select = document.querySelectorAll("[data-limits] select")[which];
  select.value = value;
  select.dispatchEvent(new Event("change"));
};

// The limit moves by a key, and what is said of it with it; from the upper end, to the lower one.
async function limits_move(page) {
  const before = await page.evaluate(chooser);
  if (before === null) return [];
  const is_at_end = await page.evaluate(() => {
    const range = document.querySelector("[data-limits] input[type=range]");
    range.focus();
    return Number(range.value) >= Number(range.max);
  });
  await page.press(is_at_end ? "Home" : "PageUp");
  const after = await page.evaluate(chooser);
  const same = ["said", "number"].filter((part) => before[part] === after[part]);
  return [
    ...same.map((part) => `the limit moves, and its ${part === "said" ? "sentence" : "number"} stays "${after[part]}"`),
    ...((is_at_end ? after.at < before.at : after.at > before.at) ? [] : ["the limit moves, and its line stays"]),
  ];
}

// Run in the page: what the buttons of its tables give, and what a cell would have to be to harm. The
// clipboard and the links to files are replaced by lists.
async function taken() {
  const given = { copied: [], files: [], names: [] };
  const blobs = [];
  Object.defineProperty(navigator, "clipboard", { configurable: true, value: { writeText: async (text) => { given.copied.push(text); } } });
  URL.createObjectURL = (blob) => { blobs.push(blob); return "#"; };
  URL.revokeObjectURL = () => {};
  HTMLAnchorElement.prototype.click = function click() { given.names.push(this.download); };
  // Of a single converter's parts too there are buttons, which other checks press.
  for (const bar of document.querySelectorAll(".tools")) {
    const [copy, file] = [...bar.querySelectorAll("button")].slice(-2);
    if (file.textContent !== "CSV") continue;
    copy.click();
    file.click();
  }
  given.files = await Promise.all(blobs.map((blob) => blob.text()));
  return given;
}

// A typed limit is told as it is, or with the counted one that it was told at, which is not above it.
async function typed_limits_are_told(page) {
  const type = (share) => {
    const box = document.querySelector("[data-limits]");
    if (!box) return null;
    const field = box.querySelector("input[type=number]");
    field.value = (share * Number(field.value)).toPrecision(4);
    field.dispatchEvent(new Event("input"));
    return { typed: Number(field.value), said: box.querySelector("output").textContent };
  };
  const found = [];
  for (const share of [0.9, 1.01, 1.3, 0.01]) {
    const now = await page.evaluate(type, share);
    if (now === null) return [];
    const [, at, below] = now.said.match(/^At (\S+)\s\S+?(?:, the nearest counted limit below (\S+)\s\S+)?: yield/) ?? [];
    const told = Number(below ?? at);
    const is_below_all = /^(No sample lies b|B)elow /.test(now.said);
    const is_told = Math.abs(told - now.typed) <= 0.006 * now.typed && (below === undefined || (Number(at) >= 0 && Number(at) < now.typed));
    if (!is_below_all && !is_told) found.push(`a limit of ${now.typed} is typed, and told is "${now.said}"`);
  }
  return found;
}

// Run in the page: harmful texts in the first cells of the first table that has buttons.
function harm(texts) {
  const table = document.querySelector(".tools + .frame table");
  [...table.tBodies[0].querySelectorAll("td")].slice(0, texts.length).forEach((cell, n) => { cell.textContent = texts[n]; });
}

const HARMFUL = ["=1+1", "-2+A1", 'a "quoted", cell', "@x"];

// "Copy" and "CSV" give the cells of the table: quoted where they must be, and none that computes.
async function tables_are_taken(page) {
  const number = await page.evaluate(() => document.querySelectorAll(".tools + .frame table thead").length);
  if (number === 0) return [];
  await page.evaluate(harm, HARMFUL);
  const of_frames = await page.evaluate(() => [...document.querySelectorAll("table")].filter((table) => table.tHead).map((table) => [...table.closest(".frame")?.previousElementSibling?.querySelectorAll(".tools > button") ?? []].at(-1)?.textContent === "CSV"));
  const wanted = (await tables(page)).filter((_, n) => of_frames[n]).map((rows) => rows.map((row) => row.map(safe)));
  const { copied, files, names } = await page.evaluate(taken);
  const found = names.filter((name) => !/^[a-z0-9-]*\.csv$/.test(name)).map((name) => `a file is called ${name}`);
  if (copied.length !== wanted.length || files.length !== wanted.length) found.push(`${copied.length} copies and ${files.length} files of ${wanted.length} tables`);
  wanted.forEach((rows, n) => {
    found.push(...difference(names[n], rows, rows_of(files[n] ?? "")));
    found.push(...difference(`the copy of ${names[n]}`, rows, (copied[n] ?? "").split("\n").map((line) => line.split("\t"))));
  });
  return found;
}

// A share as the page says it lies within half a digit of the exact one.
const says = (text, share) => Math.abs(Number(text) - 100 * share) <= 0.5 * 10 ** -(text.split(".")[1] ?? "").length + 1e-9;

// At the given limit every choice tells the yield of the summary with its interval.
async function choices_tell_the_summary(page, url) {
  const first = await page.evaluate(chooser);
  if (first === null) return [];
  const summary = JSON.parse(await readFile(new URL("summary.json", url), "utf8"));
  const found = [];
  const pictures = new Set();
  for (const quantity of first.choices[0].keys()) {
    await page.evaluate(choose, 0, quantity);
    for (const side of [0, 1]) {
      const { choices } = await page.evaluate(chooser);
      if (choices[1][side] === null) continue;
      await page.evaluate(choose, 1, side);
      const points = (await page.evaluate(chooser)).choices[2];
      for (const [n, point] of points.entries()) {
        await page.evaluate(choose, 2, n);
        const now = await page.evaluate(chooser);
        pictures.add(now.drawn);
        const name = ["chain", "paralleled"][side];
        const own = summary.results.find((one) => one.operating_point === point && one.arrangement === name) ?? summary.joint[name];
        const good = own.yield_of_measured_parts ?? own.yield;
        const what = `${first.choices[0][quantity]}, ${name}, ${point}`;
        const given = await page.evaluate((at) => JSON.parse(document.querySelector("[data-limits]").dataset.limits).figures[at[0]].views[at[1]].limit, [quantity, side]);
        if (given === null) continue;
        const [, share, lower, upper] = now.said.match(/yield ([\d.]+)\s% \(([\d.]+) to ([\d.]+)\s%\)/) ?? [];
        const pairs = [[share, good.estimate], [lower, good.lower], [upper, good.upper]];
        if (share === undefined || !pairs.every(([text, exact]) => says(text, exact))) {
          found.push(`${what}: "${now.said}", and the summary ${good.estimate} (${good.lower} to ${good.upper})`);
        }
      }
    }
  }
  if (pictures.size < 4) found.push("choosing another quantity, arrangement or operating point leaves the figure as it is");
  return found.slice(0, 4);
}

// Marks are read by the pointer and by arrow keys, below their figure.
async function marks_are_read(page) {
  const read = (open) => {
    const line = document.querySelector(".touching");
    if (!line) return null;
    for (let outer = line.closest("details"); outer && open; outer = outer.parentElement?.closest("details")) outer.open = true;
    const svg = line.previousElementSibling;
    if (open) {
      line.querySelector("input").focus();
      svg.scrollIntoView({ block: "center" });
    }
    const marks = [...svg.querySelectorAll("* > title")].map((title) => title.parentNode).filter((mark) => mark !== svg);
    const last = marks.at(-1).getBoundingClientRect();
    const said = line.querySelector("output").textContent;
    return { said, titles: marks.map((mark) => mark.querySelector("title").textContent), x: last.x + last.width / 2, y: last.y + last.height / 2 };
  };
  const first = await page.evaluate(read, true);
  if (first === null) return [];
  const found = [];
  if (first.said !== first.titles[0]) found.push(`the first mark is not told as its figure is reached, but "${first.said}"`);
  await page.press("ArrowRight");
  const next = await page.evaluate(read, false);
  if (next.said !== next.titles[Math.min(1, next.titles.length - 1)]) found.push(`an arrow key does not lead to the next mark, but to "${next.said}"`);
  const { x, y } = await page.evaluate(read, true);
  for (const type of ["mouseMoved", "mousePressed", "mouseReleased"]) {
    await page.send("Input.dispatchMouseEvent", { type, x, y, button: type === "mouseMoved" ? "none" : "left", clickCount: 1 });
  }
  const touched = await page.evaluate(read, false);
  const is_first = touched.titles.length > 1 && touched.said === touched.titles[0];
  if (!touched.titles.includes(touched.said) || is_first) found.push(`the pointer on a mark tells "${touched.said}"`);
  return found;
}

// Whatever can be touched tells a name and a number; bars of one path are told one by one.
async function marks_tell_numbers(page) {
  return page.evaluate(() => {
    const figures = [...document.querySelectorAll(".touching")].map((line) => line.previousElementSibling);
    const found = figures.flatMap((svg) => {
      const titles = [...svg.querySelectorAll("* > title")].filter((title) => title.parentNode !== svg).map((title) => title.textContent);
      return titles.filter((title) => !/\d/.test(title) || /undefined|NaN|Infinity/.test(title)).map((title) => `a mark tells "${title}"`);
    });
    for (const path of document.querySelectorAll("path[data-bars]")) {
      const [told, drawn] = [path.dataset.bars.split("|").length, path.nextElementSibling.children.length];
      if (told !== drawn) found.push(`${drawn} bars of a path can be touched, and ${told} are told`);
    }
    return found.slice(0, 4);
  });
}

// A picked converter tells its parts, its results and its command; what it gives is left beside the page, for
// a test that solves it again.
async function converters_are_picked(page, url) {
  const pick = (n) => {
    const box = document.querySelector("[data-kind=samples]")?.parentElement.querySelector(".picked");
    if (!box) return null;
    const select = box.querySelector("select");
    Object.defineProperty(navigator, "clipboard", { configurable: true, value: { writeText: (text) => { globalThis.copied = text; return Promise.resolve(); } } });
    select.value = n;
    select.dispatchEvent(new Event("change"));
    const copied = (words) => {
      [...box.querySelectorAll("button")].find((button) => button.textContent === words).click();
      return globalThis.copied;
    };
    const tables = [...box.querySelectorAll("table")].map((table) => [...table.rows].map((row) => [...row.cells].map((cell) => cell.innerText.trim())));
    const ring = document.querySelector(".picked-ring");
    return {
      options: select.options.length, said: box.querySelector("p").textContent, tables, csv: copied("Copy parts as CSV"), command: copied("Copy command"),
      shown: box.querySelector("pre").textContent, ring: ring && `${ring.getAttribute("cx")} ${ring.getAttribute("cy")}`,
      held: JSON.parse(document.querySelector("[data-converters]").dataset.converters).hold_at,
    };
  };
  const first = await page.evaluate(pick, 0);
  if (first === null) return [];
  const other = await page.evaluate(pick, Math.floor(first.options / 2));
  const found = [];
  const are_alike = await page.evaluate(() => document.body.textContent.includes("all converters drawn are alike"));
  const is_same = first.csv === other.csv || first.ring === other.ring;
  if (first.said === other.said || (is_same && !are_alike)) found.push("picking another converter leaves what is told of the first");
  if (other.command !== other.shown || !other.command.startsWith("fairphase units ")) found.push(`the command is copied as "${other.command}"`);
  const [parts, results] = other.tables;
  const phases = other.csv.trim().split("\n").length - 1;
  const sides = [parts?.length - 1, parts?.[0]?.length - 1];
  if (!sides.includes(phases)) found.push(`the table of parts holds ${sides.join(" by ")} cells, the file a row for each of ${phases} phases`);
  if (!(results?.length > 1)) found.push("no results of the picked converter");
  await writeFile(new URL("picked.json", url), JSON.stringify({ csv: other.csv, command: other.command, results: results.slice(1), held: other.held }));
  return found;
}

// The operating point and the arrangement of a section are chosen: what belongs to another one goes, what belongs
// to none stays, and with "all" everything is back.
async function points_are_chosen(page) {
  return page.evaluate(() => {
    const found = [];
    const shown = (part) => part.checkVisibility();
    for (const box of document.querySelectorAll(".chooser:not([data-limits])")) {
      const section = box.closest("section");
      const parts = [...section.querySelectorAll("[data-point], [data-arrangement]")];
      const folded = [...section.querySelectorAll("details")].map((own) => [own, own.open]);
      const before = parts.map(shown);
      for (const select of box.querySelectorAll("select")) {
        const key = select.parentElement.textContent.startsWith("Arrangement") ? "arrangement" : "point";
        const choose = (value) => { select.value = value; select.dispatchEvent(new Event("change")); };
        for (const [n, { textContent: name }] of [...select.options].entries()) {
          choose(n);
          const is_asked = (part) => n === 0 || !part.dataset[key] || part.dataset[key] === name;
          const wrong = parts.filter((part, k) => (is_asked(part) ? before[k] && !shown(part) : shown(part)));
          const lost = n > 0 && !parts.some((part) => part.dataset[key] === name && shown(part));
          if (wrong.length > 0 || lost) found.push(`${section.id}: with "${name}" chosen, ${wrong.length} parts are wrong, or none is shown`);
        }
        choose(0);
      }
      for (const [own, open] of folded) own.open = open;
      if (parts.some((part, n) => shown(part) !== before[n])) found.push(`${section.id}: not all is back`);
    }
    const wanted = [...document.querySelectorAll("section:has([data-point])")].filter((section) => new Set([...section.querySelectorAll("[data-point]")].map((part) => part.dataset.point)).size > 1);
    for (const section of wanted) if (!section.querySelector(".chooser select")) found.push(`${section.id}: nothing chooses its operating points`);
    return found.slice(0, 4);
  });
}

// A picked unit tells its verdict, its phases as the table holds them, and others where another is picked.
async function units_are_picked(page, url) {
  const pick = (n) => {
    const box = document.querySelector("[data-kind=units]")?.parentElement.querySelector(".picked");
    if (!box) return null;
    const select = box.querySelector("select");
    select.value = n;
    select.dispatchEvent(new Event("change"));
    const tables = [...box.querySelectorAll("table")].map((table) => ({ name: table.caption.innerText, rows: [...table.rows].map((row) => [...row.cells].map((cell) => cell.innerText.trim())) }));
    return { options: [...select.options].map((option) => option.textContent), said: box.querySelector("p").textContent, tables };
  };
  const first = await page.evaluate(pick, 0);
  if (first === null) return [];
  const { results } = JSON.parse(await readFile(new URL("summary.json", url), "utf8"));
  const rows = (await readFile(new URL("units.csv", url), "utf8")).trim().split("\n");
  const head = rows[0].split(",");
  const found = [];
  const places = [0, Math.floor(first.options.length / 2), first.options.length - 1];
  const said = new Set();
  for (const n of places) {
    const own = await page.evaluate(pick, n);
    said.add(own.said);
    const [, name] = own.said.match(/^(.*?): (?:largest sharing error|no steady state)/) ?? [];
    const of_unit = results.filter((result) => result.unit === name);
    if (of_unit.length === 0) found.push(`"${own.said}" names no unit of the summary`);
    const chain = of_unit.filter((result) => result.arrangement === "chain" && result.sharing_error !== null);
    const largest = Math.max(...chain.map((result) => result.sharing_error));
    const [, told] = own.said.match(/largest sharing error ([\d.e-]+)\s%/) ?? [];
    if (chain.length > 0 && !(Math.abs(Number(told) - 100 * largest) <= 0.006 * Number(told))) found.push(`${name}: told ${told} %, and the summary ${100 * largest}`);
    const phases = own.tables.find((table) => table.name.includes("currents of the phases"));
    if (!phases) continue;
    const csv = rows.filter((row) => row.startsWith(`${name},`)).map((row) => row.split(","));
    const output = csv.find((row) => row[head.indexOf("arrangement")] === "chain")?.[head.indexOf("output_current_A")];
    const [cell] = phases.rows[1].slice(2);
    if (output && Math.abs(Number(cell) - Number(output)) > 0.001 * Number(output) + 0.0005) found.push(`${name}: the first phase carries ${output} A, and the page tells ${cell}`);
  }
  if (said.size < new Set(places).size) found.push("picking another unit leaves what is told of the first");
  return found.slice(0, 4);
}

const CONTROLS = [
  points_are_chosen, details_open_by_keyboard, tab_leads_through_all, tables_sort, tables_filter, limits_move, typed_limits_are_told, choices_tell_the_summary, marks_are_read, marks_tell_numbers,
  converters_are_picked, units_are_picked, tables_are_taken,
];

export async function check_controls(page, url) {
  const found = [];
  for (const check of CONTROLS) found.push(...(await check(page, url)));
  return found;
}
