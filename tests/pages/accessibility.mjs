// Rules of axe-core: WCAG 2.0 and 2.1 at levels A and AA, and good practice.

import { readFile } from "node:fs/promises";
import { createRequire } from "node:module";

const SOURCE = await readFile(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
const TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "best-practice"];

// The rule whose outcome depends on the theme.
export const OF_COLOURS = ["color-contrast"];

// Runs in the page. What is inside of drawings is checked by figures.mjs.
async function violations(run_only) {
  const context = { exclude: [["svg *"]] };
  const { violations: found } = await axe.run(context, { runOnly: run_only, resultTypes: ["violations"] });
  return found.map(({ id, help, nodes }) => {
    const [{ html, failureSummary }] = nodes;
    const why = failureSummary.split("\n").slice(1).map((line) => line.trim()).join("; ");
    return `${id} (${nodes.length}): ${help}: ${html.slice(0, 160)}: ${why.slice(0, 240)}`;
  });
}

// By all rules, or by those named.
export async function check_accessibility(page, rules) {
  if (!(await page.value("'axe' in globalThis"))) await page.value(`${SOURCE}; undefined`);
  return page.evaluate(violations, rules ? { type: "rule", values: rules } : { type: "tag", values: TAGS });
}
