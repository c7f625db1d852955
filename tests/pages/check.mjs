// Opens every report.html of the folders in a folder, in a browser, and tells its defects.
//
//     node tests/pages/check.mjs FOLDER [WORDS …]
//
// WORDS choose folders whose names hold one of them. The variable CHROMIUM names another browser. Exit
// status: 0 all is well, 1 defects, 2 the checks could not be made.

import { existsSync } from "node:fs";
import { readdir } from "node:fs/promises";
import { availableParallelism } from "node:os";
import { join, resolve } from "node:path";
import { pathToFileURL } from "node:url";

import { OF_COLOURS, check_accessibility } from "./accessibility.mjs";
import { Browser } from "./browser.mjs";
import { check_controls } from "./controls.mjs";
import { check_extracts } from "./extracts.mjs";
import { check_figures } from "./figures.mjs";
import { check_layout } from "./layout.mjs";
import { PAPER, check_print } from "./print.mjs";
import { check_structure } from "./structure.mjs";
import { check_without_scripts, lines } from "./without_scripts.mjs";

const WIDTHS = [1440, 768, 360];
const THEMES = ["light", "dark"];

const fold = (open) => document.querySelectorAll("details").forEach((details) => {
  details.dataset.folded ??= String(!details.open);
  details.open = open || details.dataset.folded === "false";
});

// A page at a width, in a theme.
async function check_look(page, look, say) {
  const name = `${look.width} px ${look.theme}`;
  await page.show(look);
  await page.evaluate(fold, false);
  say(`${name} folded`, "layout", await check_layout(page, look));
  await page.evaluate(fold, true);
  say(name, "layout", await check_layout(page, look));
  say(name, "figures", await check_figures(page, look));
  // No other rule depends on the width.
  if (look.width === WIDTHS[0]) {
    const rules = look.theme === THEMES[0] ? undefined : OF_COLOURS;
    say(name, "accessibility", await check_accessibility(page, rules));
  }
}

// What one page is checked for; `say` takes the state, the check and what was found.
async function check_page(page, folder, say) {
  const url = pathToFileURL(join(folder, "report.html")).href;
  await page.allow_scripts(true);
  await page.show({ width: WIDTHS[0] });
  await page.open(url);
  for (const width of WIDTHS) {
    for (const theme of THEMES) await check_look(page, { width, theme, medium: "screen" }, say);
  }
  await page.show({ width: WIDTHS[0] });
  const seen = await lines(page);
  await page.evaluate(fold, false);
  await page.show(PAPER);
  say("print", "layout", await check_layout(page, PAPER));
  say("print", "figures", await check_figures(page, PAPER));
  const { found, sheets } = await check_print(page);
  say("print", "sheets", found);
  // It moves what is shown: after all looks.
  await page.show({ width: WIDTHS[0] });
  say("", "controls", await check_controls(page, url));
  // After all else, so that what a control asks for is seen too.
  say("", "structure", await check_structure(page, url));
  await page.allow_scripts(false);
  await page.show({ width: WIDTHS[0] });
  await page.open(url);
  say("", "scripts off", check_without_scripts(seen, await lines(page)));
  // The page as it was written, before any control is used.
  await page.allow_scripts(true);
  say("", "extracts", await check_extracts(page, folder));
  return sheets;
}

// Checks pages one after another, as others do at the same time, until none is left.
async function work(browser, folder, names, defects) {
  for (let name = names.shift(); name !== undefined; name = names.shift()) {
    const page = await browser.page();
    const started = Date.now();
    const own = new Map();
    const say = (state, check, found) => {
      for (const what of found) {
        const line = `${name}: ${check}: ${what}`;
        own.set(line, [...(own.get(line) ?? []), state].filter(Boolean));
      }
    };
    const sheets = await check_page(page, join(folder, name), say);
    await page.close();
    const lines = [...own].map(([line, states]) => (states.length ? `${line} [${states.join(", ")}]` : line));
    defects.push(...lines);
    console.log([`${name}: ${sheets} sheets, ${((Date.now() - started) / 1000).toFixed(1)} s`, ...lines.map((line) => `  ${line}`)].join("\n"));
  }
}

async function main([given, ...words]) {
  if (!given) throw new Error("give a folder of result folders");
  const folder = resolve(given);
  const all = (await readdir(folder)).sort().filter((name) => existsSync(join(folder, name, "report.html")));
  const names = all.filter((name) => words.length === 0 || words.some((word) => name.includes(word)));
  if (names.length === 0) throw new Error(`no folder in ${folder} holds a report.html`);
  const number = names.length;
  const defects = [];
  const browser = await Browser.start(process.env.CHROMIUM ?? "chromium");
  try {
    const hands = Math.min(names.length, availableParallelism(), 4);
    await Promise.all(Array.from({ length: hands }, () => work(browser, folder, names, defects)));
  } finally {
    await browser.close();
  }
  console.log(`${number} pages, ${defects.length} defects`);
  return defects.length === 0 ? 0 : 1;
}

try {
  process.exitCode = await main(process.argv.slice(2));
} catch (error) {
  console.error(error);
  process.exitCode = 2;
}
