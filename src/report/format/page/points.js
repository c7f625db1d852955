// Where parts of a section belong to an operating point or an arrangement, the reader chooses which are shown.
// Paper shows all.
document.querySelectorAll("section:has([data-point])").forEach((section) => {
  const parts = [...section.querySelectorAll("[data-point], [data-arrangement]")];
  const axes = [["point", "Operating point"], ["arrangement", "Arrangement"]]
    .map(([key, words]) => ({ key, words, names: [...new Set(parts.map((part) => part.dataset[key]).filter(Boolean))] }))
    .filter(({ names }) => names.length > 1);
  const show = () => parts.forEach((part) => {
    const asked = axes.filter(({ key, select }) => select.value > 0 && part.dataset[key]);
    const differs = asked.some(({ key, names, select }) => part.dataset[key] !== names[select.value - 1]);
    part.classList.toggle("not-chosen", differs);
    const folded = part.closest("details");
    if (folded && part.dataset.point && asked.length && !differs) folded.open = true;
  });
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
