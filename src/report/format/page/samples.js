// A sample that is picked tells its parts, its results and the command that solves it again.
pick_converters("samples", (data) => {
  const at_number = (text, own) => text.replace("{n}", own.name);
  const csv = (own) => {
    const row = (phase) => [
      at_number(data.unit, own), phase + 1,
      ...own.columns.map((values) => (phase < values.length ? Number(values[phase].toPrecision(9)) : "")),
    ];
    const head = ["unit", "phase", ...data.columns.map((column) => column.name)];
    const cell = (one) => (/[",\r\n]/.test(one) ? '"' + String(one).replace(/"/g, '""') + '"' : one);
    const rows = [head, ...Array.from({ length: data.phases }, (_, phase) => row(phase))];
    return rows.map((one) => one.map(cell).join(",")).join("\n") + "\n";
  };
  const PREFIXES = [[1e-12, "p"], [1e-9, "n"], [1e-6, "\u00b5"], [1e-3, "m"], [1, ""], [1e3, "k"]];
  const UNITS = { H: "H", F: "F", ohm: "\u03a9", V: "V" };
  const quantity = (value, column) => {
    if (column.name.endsWith("_K_per_W")) return `${value.toPrecision(4)}\u00a0K/W`;
    if (column.name.endsWith("_1_per_K")) return `${minus((100 * value).toPrecision(3))}\u00a0%/K`;
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
    const value = own.columns[n][phase];
    if (value === undefined) return "\u2013";
    const text = quantity(value, column);
    return column.nominal ? make("span", {}, deviation(value, column.nominal), make("br", {}), make("small", {}, text)) : text;
  };
  const named = (own) => `Sample ${grouped(own.name)}`;
  const tables = (own) => {
    const scatter = data.columns.map((column, n) => [column, n]).filter(([column]) => column.phases > 0);
    const phases = Array.from({ length: data.phases }, (_, phase) => phase);
    // The longer side downwards: sideways there is less room.
    const down = scatter.length > data.phases;
    const rows = down
      ? [["phase", ...phases.map((phase) => phase + 1)],
        ...scatter.map(([column, n]) => [column.label, ...phases.map((phase) => part(own, column, n, phase))])]
      : [["phase", ...scatter.map(([column]) => column.label)],
        ...phases.map((phase) => [phase + 1, ...scatter.map(([column, n]) => part(own, column, n, phase))])];
    return [
      told_table(`${named(own)}: parts by phase, as deviation and value`, rows[0], rows.slice(1)),
      results_table(data, own, named(own)),
    ];
  };
  const tell = (own) => {
    const file = at_number(data.file, own);
    const command = data.command.join(own.name);
    const held = data.hold_at ? [make("p", {}, `Parts as they are at \u201c${data.hold_at}\u201d: how they respond to temperature and age differs from part to part, and a file of parts holds one state. So the command gives the results of that operating point.`)] : [];
    const waves = data.waveforms.includes(Number(own.name)) ? [make("p", {}, "Its waveforms are in \u201c", make("a", { href: "#waveforms" }, "Why they share"), "\u201d.")] : [];
    return [
      make("p", {}, `To solve it again, save its parts as ${file} beside the scenario, then run:`),
      make("pre", {}, make("code", {}, command)),
      make("p", { className: "tools" },
        make("button", { type: "button", onclick: () => save(file, csv(own)) }, "Save parts as CSV"),
        copier("Copy parts as CSV", () => csv(own)), copier("Copy command", () => command)),
      ...held, ...waves, ...tables(own),
    ];
  };
  return { named, tell };
});
