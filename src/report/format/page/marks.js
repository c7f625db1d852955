// Marks of a figure that have a title can be touched, or stepped through with the arrow keys: the title is
// then a line below the figure.
{
  // An outline of bars that tells its counts gets a bar a bin, unseen, to be touched.
  const add_bars = (path) => {
    const { bins, name } = path.dataset;
    const [from, to, left, right, number, samples] = bins.split(" ").map(Number);
    const edge = (k) => short(from > 0 ? from * (to / from) ** (k / number) : from + (k / number) * (to - from));
    const wide = (right - left) / number;
    // The outline goes up and down from its base.
    const outline = path.getAttribute("d");
    let level = Number(outline.match(/^M\S+ ?(-?[\d.]+)/)[1]);
    const levels = [level, ...[...outline.matchAll(/v(-?[\d.]+)/g)].map(([, step]) => (level += Number(step)))];
    const y = Math.min(...levels);
    const height = Math.max(...levels) - y;
    const words = (n, k) =>
      `${name ? name + ", " : ""}${path.classList[0]}: ${grouped(n)} samples from ${edge(k)} to ${edge(k + 1)}\u00a0%, ${percent(n / samples)}\u00a0% of all`;
    const bar = (n, k) => {
      const rect = draw("rect", { x: left + k * wide, y, width: wide, height });
      rect.append(draw("title", {}, words(n, k)));
      return n > 0 ? [rect] : [];
    };
    const hits = draw("g", { class: "hits" });
    hits.append(...counts(path.dataset.counts, number).flatMap(bar));
    path.after(hits);
  };
  // A path of bars that tells them gets a copy of each, unseen, to be touched.
  const add_copies = (path) => {
    const hits = draw("g", { class: "hits" });
    const told = path.dataset.bars.split("|").map((bar) => bar.split(";"));
    hits.append(...path.getAttribute("d").match(/M[^M]+/g).map((d, n) => {
      const [label, value, from, to] = told[n];
      const bar = draw("path", { d });
      bar.append(draw("title", {}, `${label}, ${path.classList[0]}: ${value}\u00a0% (${from} to ${to}\u00a0%)`));
      return bar;
    }));
    path.after(hits);
  };
document.querySelectorAll("svg[role=img]").forEach((svg) => {
  const counted = [...svg.querySelectorAll("path[data-counts]:not([data-counts=''])")];
  svg.querySelectorAll("path[data-bars]").forEach(add_copies);
  // A figure that is drawn again has others; bars are made once one asks.
  const all = () => {
    counted.splice(0).forEach(add_bars);
    return [...svg.querySelectorAll("* > title")].map((title) => title.parentNode).filter((mark) => mark !== svg && !mark.closest(".not-chosen"));
  };
  if (counted.length === 0 && all().length === 0) return;
  const words = (mark) => mark.querySelector("title").textContent;
  const steps = make("input", { type: "range", min: 0, step: 1, value: 0, className: "steps" });
  steps.setAttribute("aria-label", `Marks of the figure: ${svg.querySelector("title").textContent}`);
  const told = make("output", {}, "Touch a mark, or press \u2190 \u2192.");
  told.setAttribute("aria-live", "polite");
  const frame = draw("rect", { class: "touched" });
  const show = (mark) => {
    const marks = all();
    const n = marks.indexOf(mark);
    const { x, y, width, height } = mark.getBBox();
    for (const [name, value] of Object.entries({ x: x - 2.5, y: y - 2.5, width: width + 5, height: height + 5 }))
      frame.setAttribute(name, value.toFixed(1));
    svg.append(frame);
    steps.max = marks.length - 1;
    steps.value = n;
    steps.setAttribute("aria-valuetext", `${n + 1} of ${marks.length}`);
    told.textContent = words(mark);
  };
  // The mark under the pointer, else the nearest one within reach of a finger.
  const nearest = (event) => {
    const { x, y } = place(svg, event);
    const far = (mark) => {
      const box = mark.getBBox();
      // Of marks within each other the smaller one.
      return Math.hypot(Math.max(box.x - x, 0, x - box.x - box.width), Math.max(box.y - y, 0, y - box.y - box.height)) + (box.width + box.height) / 1e3;
    };
    const best = all().reduce((one, other) => (far(other) < far(one) ? other : one));
    return far(best) < 16 ? best : undefined;
  };
  const touch = (event) => {
    const mark = all().find((one) => one.contains(event.target)) ?? nearest(event);
    if (mark) show(mark);
  };
  svg.addEventListener("pointermove", touch);
  svg.addEventListener("pointerdown", touch);
  steps.oninput = () => show(all()[steps.value]);
  steps.onfocus = () => show(all()[Math.min(steps.value, all().length - 1)]);
  svg.after(make("p", { className: "touching" }, steps, told));
});
}
