// Converters one by one: one is picked in a figure or in a list. What else is told of it depends on the kind of
// page, and comes from `describe`: how it is named, and what stands below its sentence.
const told_table = (caption, head, rows) => {
  const cells = (row) => row.map((one, n) => (n === 0 ? make("th", { scope: "row" }, one) : make("td", {}, one)));
  const body = make("table", {},
    make("caption", {}, make("span", {}, caption)),
    make("thead", {}, make("tr", {}, ...head.map((one, n) => make("th", { scope: "col", className: n ? "" : "text" }, one)))),
    make("tbody", {}, ...rows.map((row) => make("tr", {}, ...cells(row)))));
  const frame = make("div", { className: "frame", tabIndex: 0 }, body);
  frame.setAttribute("role", "group");
  frame.setAttribute("aria-label", caption);
  return frame;
};
const in_both = (kinds) => ["chain", "paralleled"].flatMap((side) => kinds.map((kind) => `${side} ${kind}`));
const error_of = (value) => (100 * value).toPrecision(3);
const results_table = (data, own, name) => {
  const cells = ([error, rms, peak]) => (error === null ? ["not solved", "", ""] : [error_of(error), rms.toPrecision(3), peak.toPrecision(3)]);
  return told_table(`${name}: sharing error and switch currents`,
    ["operating point", ...in_both(["error, %", "RMS, A", "peak, A"])],
    data.points.map((point, n) => [point, ...cells(own.results[2 * n]), ...cells(own.results[2 * n + 1])]));
};
const pick_converters = (kind, describe) => document.querySelectorAll(`[data-kind=${kind}]`).forEach((figure) => {
  const data = JSON.parse(figure.dataset.converters);
  const { named, tell } = describe(data);
  const svg = figure.querySelector("svg");
  const box = figure.parentNode.querySelector(".picked");
  const DIGITS = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";

  // Reads numbers from places between both ends of their ranges.
  const reader = (text) => {
    let at = 0;
    return ([from, to], digits) => {
      const missing = text[at] === "-";
      if (to <= from && !missing) return from;
      const own = text.slice(at, at + digits);
      at += digits;
      const place = [...own].reduce((sum, one) => 64 * sum + DIGITS.indexOf(one), 0);
      return missing ? null : from + (place / (64 ** digits - 1)) * (to - from);
    };
  };
  // A line: whether each arrangement passes, numbers, the name.
  const converter = (line, n) => {
    const [, passes, text, name] = line.match(/^(\d+),([^,]*),(.*)$/s);
    const next = reader(text);
    const largest = data.largest?.map((range) => next(range, data.digits));
    const is_whole = n < (data.whole ?? Infinity);
    const results = is_whole ? data.results.map((ranges) => ranges.map((range) => next(range, data.digits))) : [];
    const columns = is_whole ? data.columns.map((column) => Array.from({ length: column.phases }, () => next(column.range, 3))) : [];
    const most = (k) => Math.max(...results.filter((_, n) => n % 2 === 0).map((own) => own[k]));
    return { n, name, is_whole, passes: [...passes].map((one) => one === "1"), results, columns, largest: largest ?? [most(0), most(1)] };
  };
  const all = data.converters.map(converter);
  const ring = draw("circle", { class: "picked-ring", r: 7 });
  const told = make("div", {});
  const said = make("p", {});
  said.setAttribute("aria-live", "polite");
  const [x0, x1, left, right, y0, y1, low, high] = data.places;
  const at = ([e, current]) => [along(current, x0, x1, left, right), along(100 * e, y0, y1, low, high)];
  const is_drawn = (own) => own.largest[0] !== null;
  const met = (limited) => (limited ? "meets all limits" : "has a steady state at every operating point; no limit is set");
  const verdict = (own) => own.passes.map((passes, n) => `${["In the chain", "Paralleled"][n]} it ${passes ? met(data.limited[n]) : "misses a limit"}.`).join(" ");
  const values = (own, words) => (is_drawn(own) ? `${words[0]}${error_of(own.largest[0])}\u00a0%, ${words[1]}${own.largest[1].toPrecision(3)}\u00a0A` : "no steady state");
  const pick = (own) => {
    list.select.value = own.n;
    ring.remove();
    if (is_drawn(own)) {
      const [x, y] = at(own.largest);
      ring.setAttribute("cx", x.toFixed(1));
      ring.setAttribute("cy", y.toFixed(1));
      svg.append(ring);
    }
    said.textContent = `${named(own)}: ${values(own, ["largest sharing error ", "largest switch RMS current "])}. ${data.verdicts?.[own.n] ?? verdict(own)}`;
    told.replaceChildren(...tell(own));
  };
  const option = (own) => `${named(own).replace("Sample ", "")}: ${values(own, ["", ""])}${own.passes[0] ? "" : ", misses a limit"}`;
  const list = choice("Converter", all.map(option), () => pick(all[list.select.value]));
  svg.addEventListener("pointerdown", (event) => {
    const { x, y } = place(svg, event);
    const far = (own) => { const [a, b] = at(own.largest); return (a - x) ** 2 + (b - y) ** 2; };
    const nearest = all.filter(is_drawn).reduce((best, own) => (far(own) < far(best) ? own : best));
    if (far(nearest) < 30 ** 2) pick(nearest);
  });
  svg.classList.add("pickable");
  box.append(list.label, said, told);
  pick(all[0]);
});
