// With scripts off the page says all that it says with them, but for what a script adds.

// Elements in which only a script writes.
const ADDED = ".tools, .touching, [data-by-script]";

// Run in the page: the lines that are seen, folded parts opened.
function seen(added) {
  for (const details of document.querySelectorAll("details")) details.open = true;
  const hidden = [...document.querySelectorAll(added)].map((element) => [element, element.style.display]);
  for (const [element] of hidden) element.style.display = "none";
  const text = document.body.innerText;
  const drawn = [...document.querySelectorAll("svg text")].filter((one) => one.getClientRects().length > 0);
  for (const [element, display] of hidden) element.style.display = display;
  return [...text.split("\n"), ...drawn.map((one) => one.textContent)].map((line) => line.trim()).filter(Boolean);
}

export async function lines(page) {
  return page.evaluate(seen, ADDED);
}

// Lines of one list that the other one lacks.
function beyond(list, other) {
  const left = new Map();
  for (const line of other) left.set(line, (left.get(line) ?? 0) + 1);
  return list.filter((line) => {
    const times = left.get(line) ?? 0;
    left.set(line, times - 1);
    return times <= 0;
  });
}

export function check_without_scripts(with_them, without) {
  const missing = beyond(with_them, without).map((line) => `"${line.slice(0, 80)}" is missing without scripts`);
  const hidden = beyond(without, with_them).map((line) => `"${line.slice(0, 80)}" is seen without scripts alone`);
  return [...missing, ...hidden].slice(0, 6);
}
