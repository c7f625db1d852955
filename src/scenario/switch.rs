//! The table `[switch]`: output capacitances and dead time, for soft switching.

use std::ops::Bound;

use super::reader::{Bounds, Field, POSITIVE, Table};
use crate::converter::{Arrangement, FrequencyBand, SwitchSpecification, SwitchTiming};
use crate::input::quantity::Ratio;
use crate::units::{Farad, Second};

/// The switches of both arrangements, and which turn-on voltage counts as soft.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SwitchSettings {
    /// Of the chain.
    pub chain: SwitchSpecification,
    /// Of the paralleled reference, whose phases always switch together.
    pub paralleled: SwitchSpecification,
    /// Highest turn-on voltage that counts as soft, as a share of the phase's interval voltage.
    pub soft_share: f64,
    /// Whether `run` searches dead times and magnetising inductances for the target share of converters.
    pub search: bool,
}

impl SwitchSettings {
    /// The same with another dead time in both arrangements.
    #[must_use]
    pub fn with_dead_time(self, dead_time: Second) -> Self {
        let with = |switch| SwitchSpecification { dead_time, ..switch };
        Self { chain: with(self.chain), paralleled: with(self.paralleled), ..self }
    }

    /// The switches of an arrangement.
    pub fn specification(&self, arrangement: Arrangement) -> &SwitchSpecification {
        match arrangement {
            Arrangement::Chain => &self.chain,
            Arrangement::Paralleled => &self.paralleled,
        }
    }
}

const SOFT: Bounds = Bounds {
    words: "above 0 % and at most 50 %",
    low: Bound::Excluded(0.0),
    high: Bound::Included(0.5),
};

const COMMON: &str = "output_capacitance";
const APART: [&str; 2] = ["output_capacitance_low", "output_capacitance_high"];
const AS_CHAIN: &str = "as in `[switch]`";
const AS_COMMON: &str = "`output_capacitance`";

/// Reads `[switch]`; `None` within where there is none. The dead time has to fit into the shortest
/// period of the band.
#[expect(clippy::option_option, reason = "the outer None says that an error was reported")]
pub(super) fn read(
    root: &mut Table<'_>,
    band: Option<FrequencyBand>,
) -> Option<Option<SwitchSettings>> {
    let meaning = "the switches: dead times count among blocking voltages and losses, and soft switching is judged";
    match root
        .key("switch", meaning)
        .table()
        .optional("switches change at once, and soft switching is not judged")?
    {
        Some(table) => read_table(table, band).map(Some),
        None => Some(None),
    }
}

fn read_table(mut table: Table<'_>, band: Option<FrequencyBand>) -> Option<SwitchSettings> {
    let chain = specification(&mut table, band, None);
    let timing = table
        .key(
            "timing",
            "which phases of the chain switch first: all at once, or those that fall; paralleled phases \
             always switch together",
        )
        .choice(SwitchTiming::ALL, SwitchTiming::name)
        .or(SwitchTiming::default());
    let soft_share = table
        .key(
            "turn_on_voltage",
            "highest voltage of a switch at turn-on that counts as soft, of the phase's interval voltage",
        )
        .quantity::<Ratio>(SOFT)
        .or(Ratio(0.05));
    let search = table
        .key(
            "search",
            "whether `run` searches the dead times, and the largest magnetising inductance, with which \
             the target share of converters switches softly. It solves some thousand converters more",
        )
        .boolean()
        .or(false);
    let meaning = "switches of the paralleled reference, which are others";
    let paralleled =
        table.key("paralleled", meaning).table().or_empty(AS_CHAIN).and_then(|mut own| {
            let own_switches = specification(&mut own, band, Some(chain?));
            own.finish();
            own_switches
        });
    table.finish();
    let chain = SwitchSpecification { timing: timing?, ..chain? };
    Some(SwitchSettings {
        chain,
        paralleled: paralleled?,
        soft_share: soft_share?.0,
        search: search?,
    })
}

/// Capacitances and dead time; those left out are taken from `base`.
fn specification(
    table: &mut Table<'_>,
    band: Option<FrequencyBand>,
    base: Option<SwitchSpecification>,
) -> Option<SwitchSpecification> {
    let common = table.key(
        COMMON,
        "output capacitance of a switch: charge over voltage of a whole swing; for low and high \
         switches apart, give the next two keys",
    );
    let low = table.key(APART[0], "output capacitance of a low switch");
    let high = table.key(APART[1], "output capacitance of a high switch");
    if base.is_none() {
        table.one_or_both(COMMON, APART);
    }
    let is_given = [&common, &low, &high].map(|field| field.key_span().is_some());
    let common_left_out = if base.is_some() { AS_CHAIN } else { "the next two keys are given" };
    let common: Option<Option<Farad>> = common.quantity(CAPACITANCE).optional(common_left_out);
    let low: Option<Option<Farad>> = low.quantity(CAPACITANCE).optional(AS_COMMON);
    let high: Option<Option<Farad>> = high.quantity(CAPACITANCE).optional(AS_COMMON);
    if base.is_none() && matches!(is_given, [false, true, false] | [false, false, _]) {
        table.report_missing(
            "[switch] does not tell the output capacitance of every switch".to_owned(),
            "expected `output_capacitance`, or both `output_capacitance_low` and \
             `output_capacitance_high`",
        );
    }
    let dead_time = dead_time(table, band, base.map(|base| base.dead_time));
    let common = common?;
    Some(SwitchSpecification {
        low_capacitance: low?.or(common).or(base.map(|base| base.low_capacitance))?,
        high_capacitance: high?.or(common).or(base.map(|base| base.high_capacitance))?,
        dead_time: dead_time?,
        timing: SwitchTiming::Together,
    })
}

/// A switch of the highest current has some tens of nanofarads (common practice, no source): more is a slip of
/// units.
const CAPACITANCE: Bounds = Bounds {
    words: "above zero, up to 1 µF",
    low: Bound::Excluded(0.0),
    high: Bound::Included(1e-6),
};

/// The dead time: below a quarter of the shortest period.
fn dead_time(
    table: &mut Table<'_>,
    band: Option<FrequencyBand>,
    base: Option<Second>,
) -> Option<Second> {
    let field: Field<'_> = table.key(
        "dead_time",
        "time between the turn-off of one switch of a phase and the turn-on of the other",
    );
    let place = field.value_span();
    let reading = field.quantity::<Second>(POSITIVE);
    let given = match base {
        None => reading.required().map(Some),
        Some(_) => reading.optional(AS_CHAIN),
    };
    let time = given?.or(base)?;
    let longest = band.map(|band| band.too_long_dead_time());
    if let Some(longest) = longest.filter(|longest| time >= *longest && place.is_some()) {
        let message = format!("a dead time of {time} leaves no room for the switches to conduct");
        let expected =
            format!("expected less than {longest}, a quarter of the shortest switching period");
        table.report_at(place, message, &expected);
        return None;
    }
    Some(time)
}
