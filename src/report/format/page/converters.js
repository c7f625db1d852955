// Converters one by one: one that is picked tells its parts, its results and the command that solves it again.
document.querySelectorAll("[data-converters]").forEach((figure) => {
  const data = JSON.parse(figure.dataset.converters);
  const svg = figure.querySelector("svg");
  const box = figure.parentNode.querySelector(".picked");
  const DIGITS = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";

  // Reads numbers from places between both ends of their ranges.
  const reader = (text) => {
    let at = 0;
    return ([from, to], digits) => {
      if (to <= from) return from;
      const own = text.slice(at, at + digits);
      at += digits;
      if (own.startsWith("-")) return null;
      const place = [...own].reduce((sum, one) => 64 * sum + DIGITS.indexOf(one), 0);
      return from + (place / (64 ** digits - 1)) * (to - from);
    };
  };
  const converter = (line) => {
    const [sample, passes, text] = line.split(",");
    const next = reader(text);
    const results = data.results.map((ranges) => ranges.map((range) => next(range, 2)));
    const parts = data.columns.map((column) => Array.from({ length: column.phases }, () => next(column.range, 3)));
    const chain = results.filter((_, n) => n % 2 === 0);
    const largest = [0, 1].map((k) => Math.max(...chain.map((own) => own[k])));
    return { sample: Number(sample), passes: [...passes].map((one) => one === "1"), results, parts, largest };
  };
  const all = data.converters.map(converter);
  const sorted = [...all].sort((a, b) => b.largest[0] - a.largest[0]);
  const named = (text, own) => text.replace("{n}", own.sample);
  const error = (value) => (100 * value).toPrecision(3);

  const csv = (own) => {
    const row = (phase) => [
      named(data.unit, own), phase + 1,
      ...own.parts.map((values) => (phase < values.length ? Number(values[phase].toPrecision(9)) : "")),
    ];
    const head = ["unit", "phase", ...data.columns.map((column) => column.name)];
    const cell = (one) => (/[",\r\n]/.test(one) ? '"' + String(one).replace(/"/g, '""') + '"' : one);
    const rows = [head, ...Array.from({ length: data.phases }, (_, phase) => row(phase))];
    return rows.map((one) => one.map(cell).join(",")).join("\n") + "\n";
  };

  const table = (caption, head, rows) => {
    const cells = (row) => row.map((one, n) => (n === 0 ? Object.assign(make("th", { scope: "row" }, one)) : make("td", {}, one)));
    const body = make("table", {},
      make("caption", {}, make("span", {}, caption)),
      make("thead", {}, make("tr", {}, ...head.map((one, n) => make("th", { scope: "col", className: n ? "" : "text" }, one)))),
      make("tbody", {}, ...rows.map((row) => make("tr", {}, ...cells(row)))));
    const frame = make("div", { className: "frame", tabIndex: 0, role: "group" }, body);
    frame.setAttribute("role", "group");
    frame.setAttribute("aria-label", caption);
    return frame;
  };
  const PREFIXES = [[1e-12, "p"], [1e-9, "n"], [1e-6, "\u00b5"], [1e-3, "m"], [1, ""], [1e3, "k"]];
  const UNITS = { H: "H", F: "F", ohm: "\u03a9", V: "V" };
  const quantity = (value, column) => {
    const unit = UNITS[column.name.split("_").pop()];
    if (!unit || value === 0) return minus(String(Number(value.toPrecision(5))));
    const [size, prefix] = PREFIXES.filter(([size]) => size <= Math.abs(value)).pop() ?? PREFIXES[0];
    return `${minus((value / size).toPrecision(4))}\u00a0${prefix}${unit}`;
  };
  const deviation = (value, nominal) => {
    const share = 100 * (value / nominal - 1);
    return `${share < 0 ? "\u2212" : "+"}${Math.abs(share).toFixed(2)}\u00a0%`;
  };
  const part = (own, column, n, phase) => {
    const value = own.parts[n][phase];
    if (value === undefined) return "\u2013";
    const text = quantity(value, column);
    return column.nominal ? make("span", {}, deviation(value, column.nominal), make("br", {}), make("small", {}, text)) : text;
  };
  const shown = (own) => {
    const scatter = data.columns.map((column, n) => [column, n]).filter(([column]) => column.phases > 0);
    const cells = (result) => (result[0] === null ? ["not solved", "", ""] : [error(result[0]), result[1].toPrecision(3), result[2].toPrecision(3)]);
    const kinds = ["error, %", "RMS, A", "peak, A"];
    return [
      table(`Sample ${grouped(own.sample)}: parts by phase, as deviation and value`,
        ["phase", ...scatter.map(([column]) => column.label)],
        Array.from({ length: data.phases }, (_, phase) => [String(phase + 1), ...scatter.map(([column, n]) => part(own, column, n, phase))])),
      table(`Sample ${grouped(own.sample)}: sharing error and switch currents`,
        ["operating point", ...kinds.map((kind) => `chain ${kind}`), ...kinds.map((kind) => `paralleled ${kind}`)],
        data.points.map((point, n) => [point, ...cells(own.results[2 * n]), ...cells(own.results[2 * n + 1])])),
    ];
  };

  const ring = draw("circle", { class: "picked-ring", r: 7 });
  const told = make("div", {});
  const said = make("p", {});
  said.setAttribute("aria-live", "polite");
  const [x0, x1, left, right, y0, y1, low, high] = data.places;
  const at = ([e, current]) => [along(current, x0, x1, left, right), along(100 * e, y0, y1, low, high)];
  const words = (own) => own.passes.map((passes, n) => `${["chain", "paralleled"][n]}: ${passes ? "meets all limits" : "misses a limit"}`).join("; ");
  const pick = (own) => {
    list.select.value = sorted.indexOf(own);
    const [x, y] = at(own.largest);
    ring.setAttribute("cx", x.toFixed(1));
    ring.setAttribute("cy", y.toFixed(1));
    svg.append(ring);
    said.textContent = `Sample ${grouped(own.sample)}: largest sharing error ${error(own.largest[0])}\u00a0%, largest switch RMS current ${own.largest[1].toPrecision(3)}\u00a0A. ${words(own)}.`;
    const file = named(data.file, own);
    const command = data.command.join(own.sample);
    const held = data.hold_at ? ` Parts as they are at \u201c${data.hold_at}\u201d: how they respond to temperature and age differs from part to part, and a file of parts holds one state. So the command gives the results of that operating point.` : "";
    const waves = data.waveforms.includes(own.sample) ? [make("p", {}, "Its waveforms are in \u201c", make("a", { href: "#waveforms" }, "Why they share"), "\u201d.")] : [];
    told.replaceChildren(
      make("p", {}, `To solve it again, save its parts as ${file} beside the scenario, then run:${held}`),
      make("pre", {}, make("code", {}, command)),
      make("p", { className: "tools" },
        make("button", { type: "button", onclick: () => save(file, csv(own)) }, "Save parts as CSV"),
        copier("Copy parts as CSV", () => csv(own)), copier("Copy command", () => command)),
      ...waves, ...shown(own));
  };
  const list = choice("Converter", sorted.map((own) => `${grouped(own.sample)}: ${error(own.largest[0])} %, ${own.largest[1].toPrecision(3)} A${own.passes[0] ? "" : ", misses a limit"}`), () => pick(sorted[list.select.value]));
  svg.addEventListener("pointerdown", (event) => {
    const { x, y } = place(svg, event);
    const far = (own) => { const [a, b] = at(own.largest); return (a - x) ** 2 + (b - y) ** 2; };
    const nearest = all.reduce((best, own) => (far(own) < far(best) ? own : best));
    if (far(nearest) < 30 ** 2) pick(nearest);
  });
  svg.classList.add("pickable");
  box.append(list.label, said, told);
  pick(sorted[0]);
});
