"use strict";
// What a page adds where scripts run. Without them all is there, static. Nothing is fetched and nothing is
// kept.
const make = (tag, fields, ...inside) => {
  const node = Object.assign(document.createElement(tag), fields);
  node.append(...inside);
  return node;
};
const draw = (tag, places, text = "") => {
  const node = document.createElementNS(document.querySelector("svg").namespaceURI, tag);
  for (const [name, value] of Object.entries(places))
    node.setAttribute(name, typeof value === "number" ? Number(value.toFixed(1)) : value);
  node.textContent = text;
  return node;
};
const save = (name, content) => {
  const link = make("a", { download: name, href: URL.createObjectURL(new Blob([content], { type: "text/csv" })) });
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 1000);
};
// A button that copies what `content` gives.
const copier = (words, content) => {
  const button = make("button", { type: "button" }, words);
  button.onclick = () =>
    (navigator.clipboard ? navigator.clipboard.writeText(content()) : Promise.reject()).then(
      () => { button.textContent = "Copied"; },
      () => { button.textContent = "Not allowed here"; },
    );
  return button;
};
const choice = (words, options, onchange) => {
  const select = make("select", { onchange }, ...options.map((text, n) => make("option", { value: n }, text)));
  return { select, label: make("label", {}, words + " ", select) };
};
// Counts as a page packs them: the first place, then counts, empty for zero.
const counts = (text, number) => {
  const all = new Array(number).fill(0);
  if (text === "") return all;
  const [first, rest] = text.split(":");
  rest.split(",").forEach((n, k) => { all[Number(first) + k] = Number(n); });
  return all;
};
const minus = (text) => text.replace("-", "\u2212");
// Three digits, or as many as tell a value from others a step away.
const short = (value, step = 0) => {
  const apart = step > 0 && value !== 0 ? 1 + Math.floor(Math.log10(Math.abs(value)) - Math.floor(Math.log10(step)) + 1e-9) : 3;
  return minus(String(Number(value.toPrecision(Math.min(9, Math.max(3, apart))))));
};
const grouped = (n) => String(n).replace(/\B(?=(\d{3})+$)/g, "\u00a0");
const ppm = (share) => {
  const parts = Number((1e6 * share).toPrecision(3));
  return parts < 1000 ? String(parts) : grouped(parts);
};
// A yield in percent, with as many digits as tell it from 0 and 100.
const percent = (share) => {
  const p = 100 * share;
  if (p <= 0 || p >= 100) return String(p);
  for (let digits = p >= 0.1 && p <= 99.9 ? 2 : 3; digits < 8; digits += 1) {
    const text = p.toFixed(digits);
    if (Number(text) > 0 && Number(text) < 100) return text;
  }
  return p.toFixed(8);
};
// Where a value stands on an axis.
const along = (value, from, to, start, end) => start + ((value - from) / (to - from)) * (end - start);
// Round values on an axis, at most about five.
const ticks = (from, to) => {
  const power = 10 ** Math.floor(Math.log10((to - from) / 5));
  const step = [1, 2, 5, 10].map((m) => m * power).find((one) => (to - from) / one <= 5);
  const all = [];
  for (let n = Math.ceil(from / step - 1e-9); n * step <= to * (1 + 1e-9); n += 1) all.push(n * step);
  return all;
};
// The place of the pointer in a drawing.
const place = (svg, event) => new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());
