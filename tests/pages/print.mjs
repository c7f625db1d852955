// The printed page: the brief takes one sheet.

// Room between the margins that the style gives sheets of A4, in CSS pixels: 186 mm, and 188 by 281 mm on
// the sheet of the brief.
const millimetres = (length) => Math.floor((length / 25.4) * 96);
export const PAPER = { width: millimetres(186), height: millimetres(269), medium: "print" };
const SHEET = { width: millimetres(188), height: millimetres(281), medium: "print" };

// Run in the page.
function leave_brief_alone() {
  const style = new CSSStyleSheet();
  style.replaceSync("body > :not(.brief-sheet) { display: none !important }");
  document.adoptedStyleSheets = [style];
  return document.querySelector(".brief-sheet").getBoundingClientRect().height;
}

function show_all() {
  document.adoptedStyleSheets = [];
}

export async function check_print(page) {
  const found = [];
  const kind = await page.evaluate(() => ({
    brief: document.querySelector("section.brief") !== null,
    sheet: document.querySelector("body > .brief-sheet section.brief") !== null,
  }));
  if (kind.brief && !kind.sheet) found.push("the brief stands on no sheet of its own");
  if (kind.sheet) {
    await page.show(SHEET);
    const height = await page.evaluate(leave_brief_alone);
    const sheets = await page.sheets();
    await page.evaluate(show_all);
    if (sheets !== 1) found.push(`the brief takes ${sheets} sheets, not 1: it is ${Math.round(height)} px high, and a sheet ${SHEET.height}`);
  }
  return { found, sheets: await page.sheets() };
}
