// The page at a width: it scrolls downwards alone, and tables within frames that the keyboard reaches.

// Runs in the page. Which elements make it wider than the window, the innermost ones.
function wide() {
  const room = document.documentElement.clientWidth;
  const { scrollWidth } = document.documentElement;
  if (scrollWidth <= room) return [];
  const clipped = (element) => {
    for (let outer = element.parentElement; outer && outer !== document.body; outer = outer.parentElement) {
      if (getComputedStyle(outer).overflowX !== "visible") return true;
    }
    return false;
  };
  // Letters may reach out of an element that does not.
  const letters = document.createRange();
  const right = (element) => {
    const texts = [...element.childNodes].filter((node) => node.nodeType === Node.TEXT_NODE);
    const ends = texts.map((text) => {
      letters.selectNodeContents(text);
      return letters.getBoundingClientRect().right;
    });
    return Math.max(element.getBoundingClientRect().right, ...ends);
  };
  const out = [...document.body.querySelectorAll("*")].filter((element) => right(element) > room + 1 && !clipped(element));
  const innermost = out.filter((element) => !out.some((other) => other !== element && element.contains(other)));
  const names = innermost.slice(0, 3).map((element) => `<${element.localName} class="${element.getAttribute("class") ?? ""}"> "${element.textContent.trim().slice(0, 50)}"`);
  return [`is ${scrollWidth} px wide in a window of ${room}: ${names.join("; ")}`];
}

// Runs in the page. What scrolls within a frame that no key can scroll.
function out_of_reach() {
  const scrolls = (element) => element.scrollWidth > element.clientWidth + 1 && ["auto", "scroll"].includes(getComputedStyle(element).overflowX);
  const reached = (element) => element.tabIndex >= 0 || element.querySelector("a[href], button, input, select, textarea, summary, [tabindex='0']") !== null;
  const frames = [...document.body.querySelectorAll("*")].filter((element) => scrolls(element) && !reached(element));
  return frames.map((element) => `<${element.localName}> "${element.textContent.trim().slice(0, 60)}" scrolls, and no key reaches it`);
}

// Runs in the page. Tables of the brief that reach beyond their column, over the next one or out of sight.
function overhanging() {
  const tables = [...document.querySelectorAll(".finding > table")].filter((table) => table.getClientRects().length > 0);
  const beyond = tables.filter((table) => table.getBoundingClientRect().right > table.parentElement.getBoundingClientRect().right + 1);
  return beyond.map((table) => `the table of "${table.parentElement.querySelector("h3").textContent.trim()}" is wider than its column`);
}

// Runs in the page. Keys that break within a word: each piece between two places where they may break keeps to a line.
function broken() {
  const pieces = [...document.querySelectorAll(".brief th:has(wbr)")].flatMap((key) => [...key.childNodes].filter((node) => node.nodeType === 3));
  const lines = (piece) => { const range = document.createRange(); range.selectNodeContents(piece); return range.getClientRects().length; };
  return pieces.filter((piece) => lines(piece) > 1).map((piece) => `the key of "${piece.data}" breaks within a word`);
}

// Runs in the page. How far the brief reaches beyond the first screen of a desk. One that warns may be longer; one
// that leaves operating points out, whose names are long here, by a line.
function below(height) {
  if (document.querySelector(".brief-sheet .notice") !== null) return [];
  const line = document.querySelector(".brief-sheet .points ~ .remark") === null ? 0 : 20;
  const bottom = document.querySelector(".brief-sheet")?.getBoundingClientRect().bottom ?? 0;
  return bottom > height + line ? [`the brief ends at ${Math.round(bottom)} px of a screen of ${height}`] : [];
}

// The screen of a desk, on which the brief is seen as a whole.
const DESK = { width: 1440, height: 900 };

export async function check_layout(page, { width, medium }) {
  const found = [...(await page.evaluate(wide)), ...(await page.evaluate(overhanging)), ...(await page.evaluate(broken))];
  if (medium === "print") return found;
  const brief = width === DESK.width ? await page.evaluate(below, DESK.height) : [];
  return [...found, ...(await page.evaluate(out_of_reach)), ...brief];
}
