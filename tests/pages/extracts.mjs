// What `--figures` writes beside a page: the tables of the page, drawings that stand alone, and a brief of
// one sheet. Folders without such files have nothing to check.

import { existsSync } from "node:fs";
import { readFile, readdir } from "node:fs/promises";
import { join } from "node:path";
import { pathToFileURL } from "node:url";

import { check_accessibility } from "./accessibility.mjs";
import { difference, rows_of, safe, tables } from "./cells.mjs";
import { check_figures } from "./figures.mjs";
import { check_layout } from "./layout.mjs";
import { PAPER } from "./print.mjs";

// What the browser asked for beside the file, and what the console said.
function uncalled(page, name, url) {
  const asked = page.requests.filter((request) => request !== url);
  return [...asked.map((request) => `${name} asks for ${request.slice(0, 100)}`), ...page.said.map((words) => `${name}: the console says ${words}`)];
}

// The first, the middle and the last drawing, each opened alone.
async function check_drawings(page, folder, names) {
  const found = [];
  for (const name of new Set([names[0], names[names.length >> 1], names.at(-1)])) {
    const url = pathToFileURL(join(folder, name)).href;
    await page.open(url);
    found.push(...(await check_figures(page, { medium: "screen" })).map((what) => `${name}: ${what}`), ...uncalled(page, name, url));
  }
  return found;
}

async function check_brief(page, folder) {
  const url = pathToFileURL(join(folder, "brief.html")).href;
  await page.show({ width: 1440 });
  await page.open(url);
  const found = await check_accessibility(page);
  await page.show(PAPER);
  const sheets = await page.sheets();
  if (sheets !== 1) found.push(`it takes ${sheets} sheets, not 1`);
  await page.show({ width: 360 });
  found.push(...(await check_layout(page, { medium: "screen" })));
  const wrong = await page.evaluate(() => [
    ...(document.querySelector("svg[role=img], table.matrix") ? [] : ["it has no figure"]),
    ...(document.querySelector(".brief-foot code")?.textContent.startsWith("fairphase ") ? [] : ["it does not tell its command"]),
    ...[...document.querySelectorAll("[href]")].map((link) => `it leads to ${link.getAttribute("href")}`),
  ]);
  return [...found, ...wrong, ...uncalled(page, "it", url)].map((what) => `brief.html: ${what}`);
}

// `page` shows the page of the folder.
export async function check_extracts(page, folder) {
  const names = (await readdir(folder)).sort();
  const [drawn, listed] = [/^figure-.*\.svg$/, /^table-.*\.csv$/].map((kind) => names.filter((name) => kind.test(name)));
  if (drawn.length + listed.length === 0) return [];
  const found = [];
  const on_page = await page.evaluate(() => [...document.querySelectorAll("svg[role=img]")].filter((svg) => !svg.closest(".narrow-figure")).length);
  if (drawn.length !== on_page) found.push(`${drawn.length} drawings of ${on_page} figures`);
  const cells = await tables(page);
  if (listed.length !== cells.length) found.push(`${listed.length} files of ${cells.length} tables`);
  for (const [n, name] of listed.entries()) {
    found.push(...difference(name, cells[n].map((row) => row.map(safe)), rows_of(await readFile(join(folder, name), "utf8"))));
  }
  if (drawn.length > 0) found.push(...(await check_drawings(page, folder, drawn)));
  if (existsSync(join(folder, "brief.html"))) found.push(...(await check_brief(page, folder)));
  return found;
}
