//! The keys of a tolerance.

use std::ops::{Bound, Range};

use super::keys::{BAND, PartContext, ShapeKey};
use super::measured::MeasuredColumn;
use super::set::Tolerances;
use super::shape::{Shape, ShapeName};
use super::single::Tolerance;
use crate::converter::Parameter;
use crate::input::diagnostics::Diagnostic;
use crate::input::quantity::{self, Quantity, Ratio};
use crate::scenario::reader::{Bounds, Field, POSITIVE, Table};

/// What the band of a sensor's error may be, and what it means.
#[derive(Debug, Clone, Copy)]
pub(in crate::scenario) struct BandKey {
    pub(in crate::scenario) bounds: Bounds,
    pub(in crate::scenario) meaning: &'static str,
}

const SHARE: Bounds =
    Bounds { words: "from 0 to 1", low: Bound::Included(0.0), high: Bound::Included(1.0) };
const SIGMAS: Bounds =
    Bounds { words: "from 0.5 to 8", low: Bound::Included(0.5), high: Bound::Included(8.0) };
const DEVIATION: Bounds = Bounds {
    words: "above −100 % and below 100 %",
    low: Bound::Excluded(-1.0),
    high: Bound::Excluded(1.0),
};
const EXPONENT: Bounds =
    Bounds { words: "from 1 to 1000", low: Bound::Included(1.0), high: Bound::Included(1000.0) };

/// Standard deviations from the nominal value to the end of the band, where none are given.
const DEFAULT_SIGMAS: f64 = 3.0;
/// The least share of a process that must lie inside the band.
const LEAST_INSIDE: f64 = 0.01;

const TOLERANCE: &str = "how a part scatters about its nominal value; X is a key of \
                         `[converter.tank]` or `[converter.losses]`, or `flying_capacitance`";
const BAND_OF_PART: &str = "half width of the band, of the nominal value; a letter of IEC 60062; or \
                            both ends, such as `[\"-3 %\", \"+8 %\"]`";
const LOT_SHARE: &str = "share of the variance that the phases of one converter have in common, \
                         because their parts come from one lot";

/// Reads `[tolerance]`.
pub(in crate::scenario) fn read_all(
    mut table: Table<'_>,
    context: PartContext<'_>,
) -> Option<Tolerances> {
    let mut all = Some(Tolerances::default());
    for parameter in Parameter::ALL {
        let tolerance =
            match table.key_of(parameter, TOLERANCE).table().optional("the parts are exact") {
                Some(Some(own)) => read(own, parameter, context).map(Some),
                Some(None) => Some(None),
                None => None,
            };
        all = all.zip(tolerance).map(|(all, tolerance)| all.with(parameter, tolerance));
    }
    table.finish();
    all
}

fn read(table: Table<'_>, parameter: Parameter, context: PartContext<'_>) -> Option<Tolerance> {
    let mut table = table.about(format!("`{}`", parameter.key()));
    let tolerance = read_scatter(&mut table, parameter, context);
    table.finish();
    tolerance
}

/// Reads `shape`, `band` and what goes with them.
pub(in crate::scenario) fn read_scatter(
    table: &mut Table<'_>,
    parameter: Parameter,
    context: PartContext<'_>,
) -> Option<Tolerance> {
    let key = parameter.key();
    let nominal = (context.nominal)(parameter);
    if nominal == Some(0.0) {
        table.report(
            Diagnostic::new(
                table.span(),
                format!("`{key}` has a tolerance, but its nominal value is zero"),
                "expected a nominal value above zero: the band is relative to it",
            )
            .with_help(Some(format!("give `{key}` a nominal value, or remove this table"))),
        );
    }
    if !(context.is_told)(parameter) {
        let message = format!("`{key}` has a tolerance, but no nominal value");
        let expected = format!("expected `{key}` in [converter.losses], or no such table");
        table.report(Diagnostic::new(table.span(), message, expected));
    }
    let name = table
        .key("shape", "how the values spread over the band")
        .choice(ShapeName::ALL, ShapeName::word)
        .required();
    let is_measured = name == Some(ShapeName::Measured);
    let field = table.key("band", BAND_OF_PART);
    let band_place = field.value_span();
    let ends = field
        .band_of_part::<Ratio>(BAND)
        .needed_if(name.is_some() && !is_measured, "all measured parts");
    let bounded = ShapeName::ALL.into_iter().filter(|name| *name != ShapeName::Measured);
    table.needed_with("band", "shape", bounded.map(ShapeName::word).collect());
    let keys = ShapeKeys::read(table, name);
    let column = MeasuredColumn::read(table, name);
    let lot_share = table.key("lot_share", LOT_SHARE).number(SHARE, "0.5");
    let lot_share = lot_share.or_from(0.0, "nothing in common");
    let (name, keys, ends) = (name?, keys?, ends?);
    let tolerance = match (column?, ends) {
        (Some(column), _) => column.tolerance(table, ends, parameter, context),
        (None, Some(ends)) => keys.tolerance(table, name, ends, band_place),
        (None, None) => None,
    };
    Some(Tolerance { lot_share: lot_share?, ..tolerance? })
}

/// Reads an error of sensors: its band is a quantity of the kind `Q`.
pub(in crate::scenario) fn sensor_error<Q: Quantity>(
    table: &mut Table<'_>,
    band: BandKey,
) -> Option<Tolerance> {
    let ends = table.key("band", band.meaning).band_without_letters::<Q>(band.bounds).required();
    let keys = ScatterKeys::read(table, true);
    let [low, high] = ends?;
    Some(keys?.tolerance(0.5 * (low + high), 0.5 * (high - low)))
}

/// How a quantity scatters within a band that stands elsewhere.
#[derive(Debug, Clone)]
pub(in crate::scenario) struct ScatterKeys {
    shape: Shape,
    lot_share: f64,
}

impl ScatterKeys {
    /// Reads `shape`, `sigmas` and `lot_share`. Where the shape is not required, it is uniform.
    pub(in crate::scenario) fn read(table: &mut Table<'_>, is_required: bool) -> Option<Self> {
        let shape = table
            .key("shape", "how the values spread over the band")
            .choice(ShapeName::OF_SENSORS, ShapeName::word);
        let name = if is_required {
            shape.required()
        } else {
            shape.or_from(ShapeName::Uniform, "uniform")
        };
        let field = table.key("sigmas", WIDTH_IN_SIGMAS);
        let sigmas = sigmas(table, field, name, &[ShapeName::Normal]);
        let lot_share = table.key("lot_share", LOT_SHARE).number(SHARE, "0.5");
        let lot_share = lot_share.or_from(0.0, "nothing in common")?;
        let sigmas = sigmas?;
        let shape = match name? {
            ShapeName::Normal => Shape::normal(sigmas),
            ShapeName::Triangular => Shape::triangular(),
            _ => Shape::Uniform,
        };
        Some(Self { shape, lot_share })
    }

    /// The tolerance with a band of this half width to either side of its middle.
    pub(in crate::scenario) fn tolerance(self, middle: f64, band: f64) -> Tolerance {
        Tolerance { middle, lot_share: self.lot_share, ..Tolerance::new(self.shape, band) }
    }
}

/// The bounds of a sensor's error that is a fraction.
pub(in crate::scenario) const BAND_OF_GAIN: BandKey =
    BandKey { bounds: BAND, meaning: "half width of the band, or both ends" };

const WIDTH_IN_SIGMAS: &str =
    "half width of the band in standard deviations; the distribution ends at the band";

/// Reads the key `sigmas`, which goes with these shapes.
fn sigmas(
    table: &Table<'_>,
    field: Field<'_>,
    name: Option<ShapeName>,
    shapes: &'static [ShapeName],
) -> Option<f64> {
    let place = field.key_span();
    let sigmas = field.number(SIGMAS, "3").or(DEFAULT_SIGMAS);
    ShapeKey { key: "sigmas", shapes }.check(table, name, place);
    sigmas
}

const MODE: &str = "likeliest value, of the nominal value";

const WITH_PROCESS: &[ShapeName] = &[ShapeName::Normal, ShapeName::Lognormal];

/// The keys that describe a shape.
struct ShapeKeys {
    sigmas: f64,
    sigma: Option<f64>,
    mean: Option<f64>,
    mode: Option<f64>,
    mode_place: Option<Range<usize>>,
    exponents: Option<[f64; 2]>,
}

impl ShapeKeys {
    fn read(table: &mut Table<'_>, name: Option<ShapeName>) -> Option<Self> {
        let field = table.key("sigmas", WIDTH_IN_SIGMAS);
        let given = field.key_span();
        let sigmas = sigmas(table, field, name, WITH_PROCESS);
        let meaning = "standard deviation of the process, of the nominal value, instead of `sigmas`; \
                       parts outside the band are screened out";
        let field = table.key("sigma", meaning);
        let place = field.key_span();
        let sigma = field.quantity::<Ratio>(POSITIVE).optional("from `sigmas`");
        ShapeKey { key: "sigma", shapes: WITH_PROCESS }.check(table, name, place.clone());
        table.not_both(["sigmas", "sigma"]);
        if given.is_some() && place.is_some() {
            let message = "both `sigmas` and `sigma` are given".to_owned();
            table.report_at(place, message, "expected one of the two");
        }
        let meaning = "mean of the process, of the nominal value; parts outside the band are \
                       screened out";
        let mean = deviation(table, ShapeKey { key: "mean", shapes: WITH_PROCESS }, meaning, name);
        let key = ShapeKey { key: "mode", shapes: &[ShapeName::Triangular] };
        let mode_place = table.key("mode", MODE).value_span();
        let mode = deviation(table, key, MODE, name);
        let exponents = exponents(table, name);
        let (sigmas, exponents) = (sigmas?, exponents?);
        let sigma = sigma?.map(|sigma| sigma.0);
        Some(Self { sigmas, sigma, mean: mean?, mode: mode?, mode_place, exponents })
    }

    /// The tolerance with a band of these ends.
    fn tolerance(
        &self,
        table: &Table<'_>,
        name: ShapeName,
        [low, high]: [f64; 2],
        place: Option<Range<usize>>,
    ) -> Option<Tolerance> {
        let (middle, band) = (0.5 * (low + high), 0.5 * (high - low));
        if let Some(which) = self.what_needs_width(name).filter(|_| band == 0.0) {
            let message = format!("{which} needs a band above 0 %");
            let expected = "expected a wider one: an exact part may be uniform, normal, triangular \
                            or beta, without `mean`, `sigma` and `mode`";
            table.report_at(place, message, expected);
            return None;
        }
        let in_band = |deviation: Option<f64>| match deviation {
            Some(deviation) => (deviation - middle) / band,
            None => 0.0,
        };
        let sigma = self.sigma.unwrap_or(band / self.sigmas);
        let shape = match (name, self.exponents) {
            (ShapeName::Normal, _) => {
                let sigmas = self.sigma.map_or(self.sigmas, |sigma| band / sigma);
                Shape::Normal { mean: in_band(self.mean), sigmas }
            }
            (ShapeName::Lognormal, _) => {
                lognormal([middle, band], self.mean.unwrap_or(middle), sigma)
            }
            (ShapeName::Triangular, _) => Shape::Triangular { mode: in_band(self.mode) },
            (ShapeName::Beta, Some([alpha, beta])) => Shape::Beta { alpha, beta },
            _ => Shape::Uniform,
        };
        if let Shape::Triangular { mode } = shape
            && mode.abs() > 1.0
        {
            let message = "`mode` lies outside the band".to_owned();
            let expected = "expected a likeliest value inside the band";
            table.report_at(self.mode_place.clone(), message, expected);
            return None;
        }
        // A mean in the middle of the band is the one that is left out.
        let is_apart = self.mean.is_some_and(|mean| mean.total_cmp(&middle).is_ne());
        let is_process = self.sigma.is_some() || is_apart || name == ShapeName::Lognormal;
        let left_out = if is_process { shape.marginal().left_out() } else { None };
        if let Some(share) = left_out.filter(|share| *share > 1.0 - LEAST_INSIDE) {
            let inside = quantity::rounded(100.0 * (1.0 - share), None);
            let message = format!("the band lets only {inside} % of the process pass");
            table.report_at(place, message, "expected a band with 1 % of the process at least");
            return None;
        }
        let screened = left_out.map(|share| share.max(0.0));
        Some(Tolerance { middle, screened, ..Tolerance::new(shape, band) })
    }

    /// What no band of a single value can have.
    fn what_needs_width(&self, name: ShapeName) -> Option<&'static str> {
        let given = [
            ("a lognormal shape", name == ShapeName::Lognormal),
            ("`mean`", self.mean.is_some()),
            ("`sigma`", self.sigma.is_some()),
            ("`mode`", self.mode.is_some()),
        ];
        given.into_iter().find(|(_, is_given)| *is_given).map(|(which, _)| which)
    }
}

/// A key that holds a deviation from the nominal value.
#[expect(clippy::option_option, reason = "the outer None says that an error was reported")]
fn deviation(
    table: &mut Table<'_>,
    key: ShapeKey,
    meaning: &'static str,
    name: Option<ShapeName>,
) -> Option<Option<f64>> {
    let field = table.key(key.key, meaning);
    let place = field.key_span();
    let typed = field.quantity::<Ratio>(DEVIATION).optional("the middle of the band");
    key.check(table, name, place);
    typed.map(|typed| typed.map(|typed| typed.0))
}

/// The exponents of a beta shape, if it is one.
#[expect(clippy::option_option, reason = "the outer None says that an error was reported")]
fn exponents(table: &mut Table<'_>, name: Option<ShapeName>) -> Option<Option<[f64; 2]>> {
    let keys = [
        ("alpha", "exponent at the lower end of the band: the larger, the fewer parts lie there"),
        ("beta", "exponent at the upper end of the band: the larger, the fewer parts lie there"),
    ];
    let typed = keys.map(|(key, meaning)| {
        let field = table.key(key, meaning);
        let place = field.key_span();
        let is_needed = name == Some(ShapeName::Beta);
        let typed = field.number(EXPONENT, "2").needed_if(is_needed, "only with \"beta\"");
        ShapeKey { key, shapes: &[ShapeName::Beta] }.check(table, name, place);
        table.needed_with(key, "shape", vec![ShapeName::Beta.word()]);
        typed
    });
    let [alpha, beta] = typed;
    Some(alpha?.zip(beta?).map(|(alpha, beta)| [alpha, beta]))
}

/// The lognormal shape of values with this mean and standard deviation, both of the nominal value:
/// s² = ln(1 + (σ/μ)²) and m = ln μ − s²/2 of the logarithm, with μ counted from zero (N. L. Johnson,
/// S. Kotz, N. Balakrishnan, Continuous Univariate Distributions 1 (1994), chapter 14; from memory).
fn lognormal([middle, band]: [f64; 2], mean: f64, sigma: f64) -> Shape {
    let mean = 1.0 + mean;
    let variance = libm::log1p((sigma / mean) * (sigma / mean));
    Shape::Lognormal {
        origin: -(1.0 + middle) / band,
        mean: libm::log(mean / band) - 0.5 * variance,
        deviation: variance.sqrt(),
    }
}
