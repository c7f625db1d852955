// A listed converter that is picked tells its currents and what was measured on it.
pick_converters("units", (data) => {
  const named = (own) => own.name;
  const KINDS = ["output, A", "tank RMS, A", "tank peak, A"];
  const amperes = (value) => (Math.abs(value) < 5e-4 ? "0" : Math.abs(value) < 1 ? value.toFixed(3) : value.toPrecision(4));
  const current = (value) => (value === null ? "\u2013" : minus(amperes(value)));
  const phases = (own) => {
    // A column a case and current, phase by phase.
    const row = (point, phase) => own.columns.slice(2 * KINDS.length * point, 2 * KINDS.length * (point + 1)).map((values) => current(values[phase]));
    const of_point = (name, point) => Array.from({ length: data.phases }, (_, phase) => [name, String(phase + 1), ...row(point, phase)]);
    return told_table(`${own.name}: currents of the phases, those of the chain’s tanks`, ["operating point", "phase", ...in_both(KINDS)], data.points.flatMap(of_point));
  };
  const measured = (own) => (data.measured[own.n] ?? []).length === 0 ? [] : [
    told_table(`${own.name}: measured currents beside the prediction`,
      ["load", "current", "phase", "measured", "predicted", "difference", "of the phases\u2019 mean"], data.measured[own.n]),
  ];
  const tell = (own) => (own.is_whole ? [results_table(data, own, own.name), phases(own), ...measured(own)] : [make("p", {}, "Its phases are in units.csv.")]);
  return { named, tell };
});
