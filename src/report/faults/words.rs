//! What terminal and page say of faults.

use crate::converter::{Arrangement, AssumedDrift, FailureMode, Fault};
use crate::report::format::faults::fault_word::FaultWord;
use crate::report::format::missed::{self, figure_and_limit};
use crate::report::format::names;
use crate::report::format::numbers::{NONE, decimals, four, percent, quantity, significant};
use crate::report::format::premises;
use crate::scenario::Scenario;
use crate::solver::fault::{BlockingRange, FirstSigns, Periods, SwitchVoltages};
use crate::study::common::demand::Demand;
use crate::study::common::figures::Figure;
use crate::study::faults::{FaultResult, FaultStudy, HealthyConverter, not_always_judged};
use crate::units::Volt;

/// What to know before the answer: that nothing is judged, or which limits the nominal chain misses without
/// any fault.
pub(super) fn before(scenario: &Scenario, study: &FaultStudy) -> Option<String> {
    let nothing_judged = "The scenario sets no limit for the chain: what still delivers the output counts as keeping the limits.";
    let is_judged = !premises::has_no_limit(scenario);
    if is_judged { missed_before(scenario, study) } else { Some(nothing_judged.to_owned()) }
}

fn missed_before(scenario: &Scenario, study: &FaultStudy) -> Option<String> {
    let missed = missed::nominal(&study.nominal_misses, Arrangement::Chain);
    let list = missed.join("; ");
    let drifted = match scenario.drift {
        AssumedDrift::FromCauses(_) => ", with the largest drift of its voltages",
        AssumedDrift::Stated(_) => "",
    };
    (!missed.is_empty()).then(|| {
        format!("The nominal chain already misses limits without a fault{drifted}: {list}.")
    })
}

/// What the model leaves unknown.
pub(super) const UNKNOWN: [&str; 12] = [
    "saturation of a magnetising inductance behind an open rectifier",
    "peak currents while capacitors are connected hard: stray resistance and inductance decide",
    "dead time and switch capacitance, on which a dead low gate and the rest of a dead leg depend",
    "a rectifier of which one diode is open; a shorted resonant capacitor",
    "faults of two parts",
    "a fast controller, pulse skipping, and an output voltage that falls",
    "leakage while a stopped chain drifts",
    "how the difference of the two legs settles where charge balance leaves it open",
    "what the moment of the fault leaves between both legs, where one of them has an aged capacitor or a dead low gate",
    "how phases share in a full bridge that feeds half of them or fewer through one leg, where the ripple \
     exceeds a diode drop",
    "what a leg adds whose last low gate is dead, where the other leg delivers enough alone",
    "a shorted low switch 1 where the ripple reaches the body diode of high switch 1",
];

/// The laws that the answers rest on.
pub(super) const LAWS: [&str; 4] = [
    "No charge passes a phase that takes none. Its neighbours fill or empty until every phase stops: a \
     chain does not lose one phase, it loses all.",
    "Body diodes keep every voltage of a chain between zero and the input, as long as its gates work.",
    "A stopped chain ends with every working phase at the voltage below which it does not rectify. The \
     failed phase takes the rest.",
    "In full-bridge drive the sound leg keeps the currents equal while more than half of the phases \
     receive voltage in the damaged leg. At exactly half it does while the ripple stays below the drops of \
     the body diodes. Then the voltages across switches change, and the currents do not.",
];

/// What may hurt where a part has failed.
pub(super) const DANGER: [&str; 3] = [
    "A stopped chain may look healthy, and it is not safe to touch. Its capacitors stay charged, often \
     nearly to their normal voltages, and the input is connected.",
    "A converter that runs with a failed part may destroy the next one. Limits that are met in the \
     steady state say nothing of the moment of the fault.",
    "Standards on protection and a qualified engineer decide what must trip, how fast, and what may \
     run on.",
];

/// The limits that are judged after some faults alone; none where all are judged after every one.
pub(super) fn limits_not_judged(scenario: &Scenario) -> Option<String> {
    let names: Vec<String> =
        not_always_judged(scenario).iter().map(|demand| names::limit(demand).long).collect();
    (!names.is_empty()).then(|| names.join(", "))
}

/// The same for the first sheet, but for sharing and for currents of switches, for which it has no room.
pub(super) fn limits_on_first_sheet(scenario: &Scenario) -> Option<String> {
    let is_left_out = |own: &Demand| {
        use Figure::{SharingError, WorstSwitchPeak, WorstSwitchRms};
        matches!(own.figure, Some(SharingError(_) | WorstSwitchRms | WorstSwitchPeak))
    };
    let all = not_always_judged(scenario).into_iter().filter(|own| !is_left_out(own));
    let names: Vec<String> = all.map(|demand| names::limit(&demand).long).collect();
    (!names.is_empty()).then(|| names.join(", "))
}

/// Which these are, and why.
pub(super) fn not_judged(names: &str) -> String {
    format!(
        "Not judged after every fault: {names}. All are judged of aged flying capacitors, and where a paralleled \
         phase is lost. A half-bridge chain that a short leaves with fewer phases is judged by its losses, \
         but not by turn-on. After other faults capacitors meet hard through switches in each period, or body \
         diodes clamp a leg. Stray parts then decide losses and turn-on, and where capacitors meet, currents of \
         switches too. If phases switch all at once, what dead times add to blocking voltages is known of aged \
         capacitors alone. So is what they add to currents of low switches if falling phases go first. Behind a dead \
         low gate unequal phases part by more than before. What is known in part can show that a limit is missed, \
         not that it is met."
    )
}

/// The answer.
pub(super) fn answer(study: &FaultStudy) -> String {
    format!("{} {}", of_chain(study), of_reference(study))
}

/// A fault with its words at all operating points.
struct WordsOfFault {
    fault: Fault,
    words: Vec<FaultWord>,
}

impl WordsOfFault {
    fn has(&self, word: FaultWord) -> bool {
        self.words.contains(&word)
    }

    /// Whether it is this word wherever the fault is possible.
    fn is_always(&self, word: FaultWord) -> bool {
        self.words.iter().all(|own| *own == word)
    }
}

/// The faults of an arrangement, each once. A remedy is none.
fn faults(study: &FaultStudy, arrangement: Arrangement) -> Vec<WordsOfFault> {
    let mut faults: Vec<WordsOfFault> = Vec::new();
    let own = study.results.iter().filter(|result| {
        result.arrangement() == arrangement && result.fault().failure != FailureMode::Bypassed
    });
    for result in own {
        let word = FaultWord::of_result(result);
        match faults.iter_mut().find(|known| known.fault == *result.fault()) {
            Some(known) => known.words.push(word),
            None => faults.push(WordsOfFault { fault: *result.fault(), words: vec![word] }),
        }
    }
    faults
}

fn how_many(faults: &[WordsOfFault], is_counted: impl Fn(&WordsOfFault) -> bool) -> usize {
    faults.iter().filter(|fault| is_counted(fault)).count()
}

/// What the faults make of the chain.
pub(super) fn of_chain(study: &FaultStudy) -> String {
    let faults = faults(study, Arrangement::Chain);
    let stops = how_many(&faults, |fault| fault.has(FaultWord::Stops));
    let runs = how_many(&faults, |fault| fault.is_always(FaultWord::Runs));
    let all = faults.len();
    let is_chain = |own: &&HealthyConverter| own.arrangement == Arrangement::Chain;
    let [somewhere, everywhere] = match study.healthy.iter().filter(is_chain).count() {
        0 | 1 => ["", ""],
        _ => [" at some operating point", " at every one"],
    };
    format!(
        "Nominal chain: {stops} of {all} single faults stop every phase{somewhere}; {runs} keep the judged limits\
         {everywhere}."
    ) + &unsolved(&faults)
}

/// How many faults nothing is known of somewhere, if any.
fn unsolved(faults: &[WordsOfFault]) -> String {
    match how_many(faults, |fault| fault.has(FaultWord::NotSolved)) {
        0 => String::new(),
        lost => format!(" Not solved, so unknown: {lost}."),
    }
}

/// What they make of the paralleled reference.
pub(super) fn of_reference(study: &FaultStudy) -> String {
    let faults = faults(study, Arrangement::Paralleled);
    let runs = how_many(&faults, |fault| fault.is_always(FaultWord::Runs));
    let all = faults.len();
    format!("Nominal paralleled reference: {runs} of {all} keep the judged limits.")
        + &unsolved(&faults)
}

/// A span of periods.
pub(super) fn periods(own: Option<Periods>) -> String {
    let number = |n: f64| significant(n, if n < 10.0 { 1 } else { 2 });
    match own {
        None => NONE.into(),
        Some(Periods { from, to: None }) => format!("> {}", number(from)),
        Some(Periods { from, to: Some(to) }) if from < 1.0 && to <= 1.0 => "1".into(),
        Some(Periods { from, to: Some(to) }) if number(from) == number(to) => number(from),
        Some(Periods { from, to: Some(to) }) => format!("{} to {}", number(from), number(to)),
    }
}

/// What shows first, and how soon.
pub(super) fn first_sign(own: &FirstSigns) -> String {
    let all = [
        ("input", own.input),
        ("switch", own.switch),
        ("output", own.output),
        ("sharing", own.sharing),
        ("capacitors", own.capacitor),
    ];
    let sooner = |periods: &Periods| periods.to.unwrap_or(f64::INFINITY);
    let certain = all.into_iter().filter_map(|(name, periods)| Some((name, periods?)));
    let first = certain
        .filter(|(_, periods)| periods.to.is_some())
        .reduce(|first, next| if sooner(&next.1) < sooner(&first.1) { next } else { first });
    first.map_or_else(|| "nothing".into(), |(name, own)| format!("{name}, {}", periods(Some(own))))
}

/// What switches block: one voltage, a range by history, or the breakdown of a switch.
pub(super) fn blocked(result: &FaultResult) -> String {
    let Some(own) = result.blocking else { return NONE.into() };
    let lowest = four(own.lowest.0);
    match own.highest {
        None => "breakdown".into(),
        Some(highest) if four(highest.0) == lowest => lowest,
        Some(highest) => format!("{lowest} to {}", four(highest.0)),
    }
}

/// The most that any switch blocks, with a mark where that exceeds the limit.
pub(super) fn most_blocked(result: &FaultResult, limit: Option<Volt>) -> String {
    match result.blocking.map(|own| own.highest) {
        None => NONE.into(),
        Some(None) if limit.is_some() => "breakdown\u{a0}!".into(),
        Some(None) => "breakdown".into(),
        Some(Some(highest)) => {
            let exceeds = limit.is_some_and(|limit| highest.0 > limit.0);
            format!("{}{}", four(highest.0), if exceeds { "\u{a0}!" } else { "" })
        }
    }
}

/// Which switch blocks most, and how much of the limit; none where neither is known.
pub(super) fn blocked_by(result: &FaultResult, limit: Option<Volt>) -> Option<String> {
    let legs = result.outcome.state().into_iter().flat_map(|found| &found.voltages);
    let most = legs
        .flat_map(SwitchVoltages::named)
        .reduce(|most, next| if next.1.highest.0 > most.1.highest.0 { next } else { most });
    let highest = result.blocking.and_then(|own| own.highest);
    // In a dead time another one may see more.
    let is_it = |own: &(String, BlockingRange)| highest.is_none_or(|most| own.1.highest >= most);
    let switch = most.filter(is_it).map(|(name, _)| name.replace('_', " "));
    let share =
        limit.zip(highest).map(|(limit, own)| format!("{} × limit", decimals(own.0 / limit.0, 2)));
    let told: Vec<String> = switch.into_iter().chain(share).collect();
    (!told.is_empty()).then(|| told.join(", "))
}

/// The limit on blocking voltages in an arrangement.
pub(super) fn blocking_limit(scenario: &Scenario, arrangement: Arrangement) -> Option<Volt> {
    scenario.limits.switches(arrangement).blocking_voltage
}

/// Which phases carry current.
pub(super) fn carrying(result: &FaultResult) -> String {
    let Some(found) = result.outcome.state() else { return NONE.into() };
    if found.carrying.len() == found.state.phases.len() {
        return "all".into();
    }
    let numbers: Vec<String> = found.carrying.iter().map(|k| (k + 1).to_string()).collect();
    numbers.join(", ")
}

/// Where the controller is trapped.
pub(super) fn trapped(result: &FaultResult) -> Option<String> {
    let trap = result.trap?;
    Some(format!(
        "From the frequency before the fault the controller ends at {} with {}.",
        quantity(trap.frequency),
        quantity(trap.current)
    ))
}

/// In how many drawn converters it is trapped, where it is in any.
pub(super) fn trapped_share(result: &FaultResult) -> Option<String> {
    let own = result.remaining_yield.as_ref()?.trapped.filter(|own| own.successes > 0)?;
    Some(format!(
        "The controller is trapped in {} of {} drawn converters ({} to {}).",
        own.successes,
        own.trials,
        percent(own.lower),
        percent(own.upper)
    ))
}

/// Why there is no steady state, or none is known.
pub(super) fn cause(result: &FaultResult) -> Option<String> {
    result.outcome.cause().map(|why| format!("{}{}.", why[..1].to_uppercase(), &why[1..]))
}

/// Which limits are missed.
pub(super) fn missed(result: &FaultResult) -> Option<String> {
    let missed = result.missed.as_ref().filter(|missed| !missed.is_empty())?;
    let names: Vec<String> = missed.iter().map(figure_and_limit).collect();
    Some(format!("Misses a limit: {}.", names.join("; ")))
}
