// A cell that rows share tells the operating point of all of them.
document.querySelectorAll("th[data-point]").forEach((cell) => {
  const row = cell.parentNode;
  const first = row.sectionRowIndex;
  for (const own of [...row.parentNode.rows].slice(first, first + cell.rowSpan)) own.dataset.point = cell.dataset.point;
  delete cell.dataset.point;
});
// Where parts of a section belong to an operating point or an arrangement, the reader chooses which are shown.
// Paper shows all.
document.querySelectorAll("section:has([data-point])").forEach((section) => {
  const parts = [...section.querySelectorAll("[data-point], [data-arrangement]")];
  const axes = [["point", "Operating point"], ["arrangement", "Arrangement"]]
    .map(([key, words]) => ({ key, words, names: [...new Set(parts.map((part) => part.dataset[key]).filter(Boolean))] }))
    .filter(({ names }) => names.length > 1);
  const show = () => {
    const asked = (part) => axes.filter(({ key, select }) => select.value > 0 && part.dataset[key]);
    const differs = (part) => asked(part).some(({ key, names, select }) => part.dataset[key] !== names[select.value - 1]);
    parts.forEach((part) => part.classList.toggle("not-chosen", differs(part)));
    // What is chosen is opened where it is folded away; rows of tables only until one is seen.
    const chosen = parts.filter((part) => part.dataset.point && asked(part).length && !differs(part));
    for (const part of chosen) {
      const folded = part.closest("details");
      if (folded && !(part.matches("tr") && chosen.some((own) => own.checkVisibility()))) folded.open = true;
    }
  };
  const box = make("div", { className: "chooser" });
  box.dataset.byScript = "";
  for (const axis of axes) {
    const { select, label } = choice(axis.words, ["all", ...axis.names], show);
    axis.select = select;
    box.append(label);
  }
  let first = parts[0];
  while (!first.parentNode.matches(".body")) first = first.parentNode;
  first.before(box);
});
