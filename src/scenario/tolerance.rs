//! The tables `[tolerance.X]`: how the parts scatter about their nominal values.

use std::ops::Bound;

use super::reader::{Bounds, Table};
use crate::converter::Parameter;
use crate::input::diagnostics::Diagnostic;
use crate::input::quantity::{Quantity, Ratio};

/// How a part's values are spread over its tolerance band.
#[derive(Debug, Clone, PartialEq)]
pub enum Shape {
    /// Every value within the band is as likely as any other.
    Uniform,
    /// Normal, cut off at the band.
    Normal {
        /// Half width of the band in standard deviations of the normal before it is cut.
        sigmas: f64,
    },
    /// Likeliest at the nominal value, falling in a straight line to nothing at the band.
    Triangular,
}

impl Shape {
    /// The word used in scenario files and tables.
    pub fn name(&self) -> &'static str {
        let name = match self {
            Self::Uniform => ShapeName::Uniform,
            Self::Normal { .. } => ShapeName::Normal,
            Self::Triangular => ShapeName::Triangular,
        };
        name.word()
    }
}

/// The word for a shape in scenario files and tables.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum ShapeName {
    Uniform,
    Normal,
    Triangular,
}

impl ShapeName {
    const ALL: [Self; 3] = [Self::Uniform, Self::Normal, Self::Triangular];

    fn word(self) -> &'static str {
        match self {
            Self::Uniform => "uniform",
            Self::Normal => "normal",
            Self::Triangular => "triangular",
        }
    }
}

/// The tolerance of one parameter.
#[derive(Debug, Clone, PartialEq)]
pub struct Tolerance {
    /// How the values are spread over the band.
    pub shape: Shape,
    /// Half width of the band, a fraction of the nominal value: from 0 to below 1.
    pub band: f64,
    /// Share of the variance that the phases of one converter have in common, 0 to 1.
    pub lot_share: f64,
}

/// The tolerances of all parameters; a parameter without one is exact.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Tolerances([Option<Tolerance>; Parameter::ALL.len()]);

impl Tolerance {
    /// The same tolerance with another band.
    #[must_use]
    pub fn with_band(&self, band: f64) -> Self {
        Self { band, ..self.clone() }
    }

    /// The same tolerance with its band multiplied.
    #[must_use]
    pub fn scaled(&self, factor: f64) -> Self {
        self.with_band(factor * self.band)
    }
}

impl Tolerances {
    /// The tolerance of a parameter.
    pub fn get(&self, parameter: Parameter) -> Option<&Tolerance> {
        self.0[parameter.index()].as_ref()
    }

    /// The same tolerances but for one parameter's.
    #[must_use]
    pub fn with(&self, parameter: Parameter, tolerance: Option<Tolerance>) -> Self {
        let mut all = self.clone();
        all.0[parameter.index()] = tolerance;
        all
    }

    /// The same tolerances with another band of one parameter; as they are where it has none.
    #[must_use]
    pub fn with_band(&self, parameter: Parameter, band: f64) -> Self {
        self.with(parameter, self.get(parameter).map(|own| own.with_band(band)))
    }

    /// The same tolerances with all bands multiplied.
    #[must_use]
    pub fn scaled(&self, factor: f64) -> Self {
        Self(self.0.each_ref().map(|own| own.as_ref().map(|own| own.scaled(factor))))
    }

    /// The parameters that have a tolerance, in the order of [`Parameter::ALL`].
    pub fn iter(&self) -> impl Iterator<Item = (Parameter, &Tolerance)> {
        Parameter::ALL.into_iter().filter_map(|p| Some((p, self.get(p)?)))
    }
}

/// What a band may be, and what it means.
#[derive(Debug, Clone, Copy)]
pub(super) struct BandKey {
    pub(super) bounds: Bounds,
    pub(super) meaning: &'static str,
}

const BAND_OF_PART: BandKey =
    BandKey { bounds: BAND, meaning: "half width of the band, of the nominal value" };
pub(super) const BAND: Bounds = Bounds {
    words: "of zero or more and below 100 %",
    low: Bound::Included(0.0),
    high: Bound::Excluded(1.0),
};
const SHARE: Bounds =
    Bounds { words: "from 0 to 1", low: Bound::Included(0.0), high: Bound::Included(1.0) };
const SIGMAS: Bounds =
    Bounds { words: "from 0.5 to 8", low: Bound::Included(0.5), high: Bound::Included(8.0) };

/// Standard deviations from the nominal value to the end of the band, where none are given.
const DEFAULT_SIGMAS: f64 = 3.0;

const TOLERANCE: &str = "how a part scatters about its nominal value; X is a key of \
                         `[converter.tank]`, or `flying_capacitance`";

/// Reads `[tolerance]`. `nominal` gives the nominal values, as far as they are known: a band
/// relative to zero is an error.
pub(super) fn read_all(
    mut table: Table<'_>,
    nominal: impl Fn(Parameter) -> Option<f64>,
) -> Option<Tolerances> {
    let mut all = Some(Tolerances::default());
    for parameter in Parameter::ALL {
        let tolerance =
            match table.key_of(parameter, TOLERANCE).table().optional("the parts are exact") {
                Some(Some(own)) => read(own, parameter, nominal(parameter)).map(Some),
                Some(None) => Some(None),
                None => None,
            };
        all = all.zip(tolerance).map(|(all, tolerance)| all.with(parameter, tolerance));
    }
    table.finish();
    all
}

fn read(table: Table<'_>, parameter: Parameter, nominal: Option<f64>) -> Option<Tolerance> {
    let mut table = table.about(format!("`{}`", parameter.key()));
    let tolerance = read_scatter(&mut table, parameter, nominal);
    table.finish();
    tolerance
}

/// Reads `shape`, `band` and what goes with them.
pub(super) fn read_scatter(
    table: &mut Table<'_>,
    parameter: Parameter,
    nominal: Option<f64>,
) -> Option<Tolerance> {
    let key = parameter.key();
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
    scatter::<Ratio>(table, BAND_OF_PART)
}

/// Reads shape, band and lot share; the band is a quantity of the kind `Q`.
pub(super) fn scatter<Q: Quantity>(table: &mut Table<'_>, band: BandKey) -> Option<Tolerance> {
    let shape = shape(table);
    let band = table.key("band", band.meaning).quantity::<Q>(band.bounds).required();
    let lot_share = table
        .key(
            "lot_share",
            "share of the variance that the phases of one converter have in \
            common, because their parts come from one lot",
        )
        .number(SHARE, "0.5")
        .or(0.0);
    Some(Tolerance { shape: shape?, band: band?.value(), lot_share: lot_share? })
}

fn shape(table: &mut Table<'_>) -> Option<Shape> {
    let shape = table
        .key("shape", "how the values spread over the band")
        .choice(ShapeName::ALL, ShapeName::word)
        .required();
    let field = table.key(
        "sigmas",
        "only with \"normal\": half width of the band in standard \
        deviations; the distribution ends at the band",
    );
    let place = field.key_span();
    let sigmas = field.number(SIGMAS, "3").or(DEFAULT_SIGMAS);
    table.only_with("sigmas", "shape", "normal");
    let shape = shape?;
    if shape != ShapeName::Normal && place.is_some() {
        let message = format!("`sigmas` does not go with the shape \"{}\"", shape.word());
        table.report_at(place, message, "expected only where the shape is \"normal\"");
    }
    sigmas.map(|sigmas| match shape {
        ShapeName::Uniform => Shape::Uniform,
        ShapeName::Normal => Shape::Normal { sigmas },
        ShapeName::Triangular => Shape::Triangular,
    })
}
