// Were the limit another one: the operating point, the arrangement and the quantity can be chosen, and the
// limit moved; the figure is drawn again from counts.
document.querySelectorAll("[data-limits]").forEach((box) => {
  const data = JSON.parse(box.dataset.limits);
  const svg = box.parentNode.querySelector("svg");
  const [left, right, low, high, base, top] = data.places;
  const [title, description] = svg.children;
  const words = title.textContent;
  let chosen;

  // The share of all converters that fails where so many samples do: lower and upper end.
  const ends = (failed) => {
    const next = Math.max(0, data.yields.findIndex(([n]) => n >= failed));
    const [b, a] = [data.yields[next], data.yields[Math.max(0, next - 1)]];
    const share = b[0] === a[0] ? 1 : (failed - a[0]) / (b[0] - a[0]);
    return [1, 2].map((k) => a[k] + share * (b[k] - a[k]));
  };

  const figures = choice("Quantity", data.figures.map((own) => own.name), () => choose());
  const sides = choice("Arrangement", data.arrangements.map((own) => own.name), () => choose());
  const points = choice("Operating point", [], () => choose());
  const others = make("input", { type: "checkbox", checked: true, onchange: () => choose() });
  const number = make("input", { type: "number", step: "any" });
  const range = make("input", { type: "range", step: "any" });
  const unit = make("span", {});
  const told = make("output", {});
  told.setAttribute("aria-live", "polite");
  const line = draw("line", { class: "moved-limit", y1: base, y2: high });
  // A bar a bin, unseen, to be touched.
  const hits = draw("g", { class: "hits" });
  const grip = draw("circle", { class: "moved-limit grip", r: 6, cy: (low + top) / 2 });

  // What the selects say, with its counts: within each edge, alone and with all other limits met.
  const read = () => {
    const figure = data.figures[figures.select.value];
    for (const option of sides.select.options) option.disabled = !figure.views[option.value];
    if (!figure.views[sides.select.value]) sides.select.value = figure.views.findIndex(Boolean);
    const view = figure.views[sides.select.value];
    const names = view.scopes.map((scope) => data.points[scope.point]);
    const before = points.select.selectedOptions[0]?.textContent;
    points.select.replaceChildren(...names.map((name, n) => make("option", { value: n }, name)));
    points.select.value = names.includes(before) ? names.indexOf(before) : names.length - 1;
    const scope = view.scopes[points.select.value];
    const all = counts(scope.all, scope.bins + 2);
    const missing = counts(scope.others, scope.bins + 2);
    let sum = 0;
    const within = all.slice(0, -1).map((n, k) => (sum += n - (others.checked ? missing[k] : 0)));
    const edges = all.slice(0, -1).map((_, k) => (k === scope.at ? view.limit : scope.from + k * scope.step));
    return { figure, view, scope, all, missing, within, edges, side: data.arrangements[sides.select.value] };
  };

  const verdict = ([lower, upper]) =>
    1 - upper >= data.target ? "pass" : 1 - lower < data.target ? "fail" : "not decided";
  const named = (value) => `${short(value, chosen.scope.step)}\u00a0${chosen.figure.unit}`;
  const below_all = () => {
    const { edges, within } = chosen;
    return within[0] === 0 ? `No sample lies below ${named(edges[0])}.` : `Below ${named(edges[0])} the yield is at most ${percent(within[0] / data.samples)}\u00a0%.`;
  };
  // The highest limit among the edges that is not above the wanted one: a bound that is kept. Gives what is told.
  const show = (wanted) => {
    const { view, scope, all, within, edges } = chosen;
    const is_given = view.limit !== null && Math.abs(wanted - view.limit) <= 1e-9 * Math.abs(view.limit);
    const edge = edges.findLastIndex((one) => one <= wanted + 1e-9 * Math.abs(wanted));
    const is_above_all = edge === edges.length - 1 && all.at(-1) === 0;
    const at = is_given ? view.limit : is_above_all ? wanted : edges[edge];
    const x = along(Math.min(edges.at(-1), Math.max(edges[0], wanted)), edges[0], edges.at(-1), left, right);
    for (const name of ["x1", "x2"]) line.setAttribute(name, x.toFixed(1));
    grip.setAttribute("cx", x.toFixed(1));
    range.setAttribute("aria-valuetext", named(at ?? wanted));
    if (at === undefined) { told.textContent = below_all(); return wanted; }
    const passing = is_given ? scope.within[others.checked ? 1 : 0] : within[edge];
    const failed = data.samples - passing;
    const [lower, upper] = ends(failed);
    const is_asked = named(at) === named(wanted);
    told.textContent =
      `At ${named(at)}${is_asked ? "" : `, the nearest counted limit below ${named(wanted)}`}: ` +
      `yield ${percent(1 - failed / data.samples)}\u00a0% ` +
      `(${percent(1 - upper)} to ${percent(1 - lower)}\u00a0%), ` +
      `${ppm(failed / data.samples)}\u00a0ppm fail (${ppm(lower)} to ${ppm(upper)}): ${verdict([lower, upper])}${data.alone ? " on the measured parts alone" : ""}.`;
    return at;
  };
  // Moved along the figure: to a limit that is counted.
  const move = (wanted) => {
    if (Number.isNaN(wanted)) return;
    const inside = Math.min(Number(range.max), Math.max(Number(range.min), wanted));
    range.value = inside;
    const at = show(inside);
    if (at !== inside) show(at);
    number.value = Number(at.toPrecision(6));
  };

  const paint = () => {
    const { figure, view, scope, side, all, missing, within, edges } = chosen;
    const [from, to] = [edges[0], edges.at(-1)];
    const x = (value) => along(value, from, to, left, right);
    const share = (n) => n / data.samples;
    const bins = all.slice(1, -1);
    const most = 1.05 * share(Math.max(1, ...bins));
    const y = (n) => along(share(n), 0, most, low, high);
    const decade = (one) => along(Math.log10(Math.max(one, data.least)), Math.log10(data.least), 0, base, top);
    const nodes = [];
    const add = (...given) => nodes.push(draw(...given));
    const level = (at) => `M${left} ${at.toFixed(1)}H${right}`;
    const has_limit = view.limit !== null && view.limit >= from && view.limit <= to;
    if (has_limit) add("rect", { class: "beyond-limit", x: x(view.limit), y: high, width: right - x(view.limit), height: base - high });
    const upright = ticks(from, to);
    add("path", { class: "grid", d: upright.map((one) => `M${x(one).toFixed(1)} ${base}V${top}`).join("") });
    for (const one of upright) add("text", { x: x(one), y: base + 16, "text-anchor": "middle" }, short(one, upright[1] - upright[0]));
    add("text", { class: "name", x: (left + right) / 2, y: base + 36, "text-anchor": "middle" }, `${figure.name}, ${figure.unit}`);
    add("text", { class: "name", x: 0, y: 13 }, "samples");
    for (const one of ticks(0, most)) {
      const at = along(one, 0, most, low, high);
      add("path", { class: "grid", d: level(at) });
      add("text", { x: left - 6, y: at + 4, "text-anchor": "end" }, `${short(100 * one)} %`);
    }
    const bars = (list, name) => {
      const steps = list.map((n, k) => `V${y(n).toFixed(1)}H${x(edges[k + 1]).toFixed(1)}`).join("");
      add("path", { class: `${name} area`, d: `M${left} ${low}${steps}V${low}` });
    };
    bars(bins, side.class);
    if (others.checked) bars(missing.slice(1, -1), "others");
    add("line", { class: "axis", x1: left, x2: right, y1: low, y2: low });
    add("text", { class: "name", x: 0, y: top - 12 }, "failures, ppm");
    for (let one = data.least; one < 1.1; one *= 10) {
      add("path", { class: "grid", d: level(decade(one)) });
      add("text", { x: left - 6, y: decade(one) + 4, "text-anchor": "end" }, ppm(one));
    }
    const failed = within.map((n) => data.samples - n);
    const curve = (list) => list.map((one, k) => `${x(edges[k]).toFixed(1)} ${decade(one).toFixed(1)}`);
    const band = failed.map(ends);
    const back = curve(band.map(([, upper]) => upper)).reverse();
    add("path", { class: `${side.class} band`, d: `M${[...curve(band.map(([lower]) => lower)), ...back].join("L")}` });
    add("path", { class: `${side.class} line`, d: `M${curve(failed.map(share)).join("L")}` });
    const target = decade(1 - data.target);
    add("line", { class: "target", x1: left, x2: right, y1: target, y2: target });
    const end = left + 8 + 6.2 * data.allowed.length;
    const near = (at, y) => at <= end && y >= target - 22 && y < target + 2;
    const right_end = failed.some((one, k) => near(x(edges[k]), decade(share(one)))) || (has_limit && near(x(view.limit), target));
    add("text", { class: "target-label", x: right_end ? right : left + 4, y: target - 5, "text-anchor": right_end ? "end" : "start" }, data.allowed);
    add("line", { class: "axis", x1: left, x2: right, y1: base, y2: base });
    if (view.limit !== null) {
      const at = x(Math.min(to, Math.max(from, view.limit)));
      if (has_limit) add("line", { class: "limit", x1: at, x2: at, y1: base, y2: high - 6 });
      const anchor = at > 0.7 * svg.viewBox.baseVal.width ? "end" : at < left + 40 ? "start" : "middle";
      const name = `limit ${short(view.limit)}\u00a0${figure.unit}`;
      add("text", { class: "limit-label", x: at, y: high - 10, "text-anchor": anchor }, has_limit ? name : at > left ? `${name} →` : `← ${name}`);
    }
    hits.replaceChildren(...bins.map((n, k) => {
      const rect = draw("rect", { x: x(edges[k]), y: high, width: x(edges[k + 1]) - x(edges[k]), height: low - high });
      const other = missing[k + 1] > 0 && others.checked ? `, ${grouped(missing[k + 1])} of them miss another limit` : "";
      rect.append(draw("title", {}, `${short(edges[k], scope.step)} to ${named(edges[k + 1])}: ${grouped(n)} samples, ${percent(share(n))}\u00a0%${other}`));
      return rect;
    }));
    title.textContent = `Samples by ${figure.name}, and failures over its limit: ${side.name}, ${points.select.selectedOptions[0].textContent}`;
    svg.replaceChildren(title, description, ...nodes, hits, line, grip);
  };

  // The limit as it is for a choice: the given one, else where the target is just met.
  const choose = () => {
    chosen = read();
    const { view, within, edges, figure } = chosen;
    const enough = edges[within.findIndex((n) => n >= data.target * data.samples)];
    const start = view.limit ?? enough ?? edges.at(-1);
    range.min = Math.min(edges[0], start);
    range.max = Math.max(edges.at(-1), start);
    number.min = range.min;
    number.max = range.max;
    unit.textContent = figure.unit;
    number.setAttribute("aria-label", `Limit of the ${figure.name}, ${figure.unit}`);
    range.setAttribute("aria-label", `Limit of the ${figure.name}`);
    paint();
    move(start);
  };
  range.oninput = () => move(Number(range.value));
  number.oninput = () => {
    const wanted = Number(number.value);
    if (number.value === "" || Number.isNaN(wanted)) return;
    range.value = wanted;
    show(wanted);
  };
  const drag = (event) => {
    if (event.buttons !== 1) return;
    const { edges } = chosen;
    move(along(place(svg, event).x, left, right, edges[0], edges.at(-1)));
  };
  svg.addEventListener("pointerdown", (event) => { svg.setPointerCapture(event.pointerId); drag(event); });
  svg.addEventListener("pointermove", drag);
  svg.classList.add("draggable");

  box.append(
    figures.label, sides.label, points.label,
    make("label", {}, others, " other limits count too"),
    make("label", { className: "limit-value" }, "Limit ", number, " ", unit),
    range, told,
  );
  const still = [...svg.children];
  choose();
  // As drawn with the page, until something else is chosen.
  if (title.textContent.startsWith(words)) svg.replaceChildren(...still, hits, line, grip);
  title.textContent = words;
});
