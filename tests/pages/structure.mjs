// What holds whatever the page looks like: ids, links, headings, nothing fetched, nothing said.

// Runs in the page.
function defects() {
  const found = [];
  const ids = new Map();
  for (const element of document.querySelectorAll("[id]")) ids.set(element.id, (ids.get(element.id) ?? 0) + 1);
  for (const [id, times] of ids) if (times > 1) found.push(`id "${id}" stands ${times} times`);
  const lead = (id, whence) => { if (!ids.has(id)) found.push(`${whence} leads to "#${id}", which is not there`); };
  for (const link of document.querySelectorAll("[href^='#']")) lead(decodeURIComponent(link.getAttribute("href").slice(1)), `the link "${link.textContent.trim()}"`);
  for (const name of ["aria-labelledby", "aria-describedby", "aria-controls", "aria-owns", "for", "headers"]) {
    for (const element of document.querySelectorAll(`[${name}]`)) {
      for (const id of element.getAttribute(name).split(/\s+/).filter(Boolean)) lead(id, `${name} of <${element.localName}>`);
    }
  }
  for (const element of document.querySelectorAll("svg *")) {
    for (const { name, value } of element.attributes) {
      for (const [, id] of value.matchAll(/url\(["']?#([^"')]+)/g)) lead(id, `${name} of <${element.localName}>`);
    }
  }
  if (document.querySelectorAll("main").length !== 1) found.push("there is not one <main>");
  const sections = [...document.querySelectorAll("main > section")].map((section) => section.id);
  const links = [...document.querySelectorAll("nav a")].map((link) => link.getAttribute("href").slice(1));
  if (sections.join() !== links.join()) found.push(`the list of contents leads to "${links.join(", ")}", not to "${sections.join(", ")}"`);
  for (const brief of document.querySelectorAll("section.brief")) {
    // A matrix of words and colours is read like a figure.
    if (brief.querySelector("svg[role=img], table.matrix") === null) found.push("the brief has no figure");
  }
  return found;
}

export async function check_structure(page, url) {
  const found = await page.evaluate(defects);
  const asked = page.requests.filter((request) => request !== url);
  return [
    ...found,
    ...asked.map((request) => `asks for ${request.slice(0, 100)}`),
    ...page.said.map((words) => `the console says ${words}`),
  ];
}
