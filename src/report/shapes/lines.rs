//! Lines to paste into a scenario.

use std::fmt::Write as _;

use super::MeasurementsSource;
use crate::study::shapes::{ColumnCorrelation, ColumnShapes, Inspection, ShapeFit};

/// Decimals of a half width of ten percent; each power of ten below has one more.
const DECIMALS: f64 = 3.0;

/// The table of a shape.
pub(super) fn of_shape(column: &ColumnShapes, fit: &ShapeFit) -> String {
    let scatter = &fit.scatter;
    let decimals = decimals(0.5 * (scatter.band.upper - scatter.band.lower));
    let percent = |fraction: f64| percent(fraction, decimals);
    let mut text = head(column);
    let _ = writeln!(text, "shape = \"{}\"", fit.shape.family().name());
    let [lower, upper] = [scatter.band.lower, scatter.band.upper].map(percent);
    let _ = writeln!(text, "band  = [\"{lower}\", \"{upper}\"]");
    if let Some(mean) = scatter.mean {
        let _ = writeln!(text, "mean  = \"{}\"", percent(mean));
    }
    if let Some(sigma) = scatter.sigma {
        let _ = writeln!(text, "sigma = \"{:.decimals$} %\"", 100.0 * sigma);
    }
    if let Some([alpha, beta]) = scatter.exponents {
        let _ = writeln!(text, "alpha = {alpha:.3}\nbeta  = {beta:.3}");
    }
    text
}

/// The table that draws the measured values themselves; none where a scenario does not take all of them.
pub(super) fn of_measured(column: &ColumnShapes, source: &MeasurementsSource) -> Option<String> {
    let [file, name] = [&source.path, &column.name].map(|text| toml_text(text));
    (column.not_drawn() == 0).then(|| {
        let mut text =
            format!(
                "{}shape  = \"measured\"\nfile   = {file}   # from the folder of the scenario\ncolumn = {name}\n",
                head(column)
            );
        if let Some(Inspection { band, .. }) = &column.inspection {
            let decimals = decimals(0.5 * (band.upper - band.lower));
            let [lower, upper] = [band.lower, band.upper].map(|end| percent(end, decimals));
            let _ = writeln!(text, "band   = [\"{lower}\", \"{upper}\"]");
        }
        text
    })
}

/// The table of a correlation, where a scenario can state it and the values show that there is one.
pub(super) fn of_correlation(correlation: &ColumnCorrelation) -> Option<String> {
    let [first, second] = correlation.keys.filter(|_| correlation.found.is_told_from_zero())?;
    let coefficient = correlation.found.estimate;
    Some(format!(
        "[[correlation]]\nbetween     = [\"{first}\", \"{second}\"]\ncoefficient = {coefficient:.2}\n"
    ))
}

/// The head of the table. Deviations count from a median only where the scenario has it.
fn head(column: &ColumnShapes) -> String {
    let parameter = column.parameter;
    let key = parameter.map_or("X", |parameter| parameter.key());
    let whose = if parameter.is_none() { "  # X: the parameter of this column" } else { "" };
    let table = format!("[tolerance.{key}]{whose}\n");
    if column.nominal.is_given {
        return table;
    }
    let nominal = super::words::plain_value(column, column.nominal.value);
    format!("{table}# relative to the nominal value {nominal}, the median of the file\n")
}

fn percent(fraction: f64, decimals: usize) -> String {
    format!("{:+.decimals$} %", 100.0 * fraction)
}

/// Decimals of a percentage, so that its last digit is a thousandth of the half width or less.
fn decimals(half_width: f64) -> usize {
    let power = libm::log10(100.0 * half_width.max(1e-12)).floor();
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "1 to 12")]
    let decimals = (DECIMALS - power).clamp(1.0, 12.0) as usize;
    decimals
}

/// A text in the quotes of TOML: a basic string, whose escapes are those of JSON strings.
fn toml_text(text: &str) -> String {
    serde_json::Value::from(text).to_string()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn decimals_follow_the_width() {
        for (half_width, expected) in
            [(0.5, 2), (0.1, 2), (0.05, 3), (0.004, 4), (0.9, 2), (1e-15, 12)]
        {
            assert_eq!(decimals(half_width), expected, "{half_width}");
        }
    }

    #[test]
    fn texts_are_quoted_as_toml_reads_them() {
        for text in ["cores.csv", "a \"b\".csv", "C:\\parts\\x.csv", "µH\n"] {
            let table: toml::Table = format!("x = {}", toml_text(text)).parse().unwrap();
            assert_eq!(table["x"].as_str(), Some(text));
        }
    }
}
