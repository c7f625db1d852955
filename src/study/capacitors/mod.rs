//! Questions about the flying capacitors of a chain, one module each: how large they must be
//! ([`size`]), how fast they settle ([`settling`]), how far they drift ([`drift`]), how
//! the chain starts ([`start_up`]).
//!
//! All parts share one session. Its nominal converter has flying capacitors so large that they change
//! nothing: it decides drive and rectifier where the scenario leaves them open, and is what a size is
//! compared with. So the capacitance that the scenario gives may be any.

pub mod drift;
pub mod settling;
pub mod size;
pub mod start_up;

use std::sync::atomic::AtomicBool;

use self::drift::DriftStudy;
use self::settling::SettlingStudy;
use self::size::SizeStudy;
use self::start_up::{StartMethod, StartUpStudy};
use crate::converter::{Age, Arrangement, Drive};
use crate::scenario::Scenario;
use crate::study::common::error::StudyError;
use crate::study::common::progress::Progress;
use crate::study::common::session::Session;
use crate::study::common::settings::Settings;
use crate::study::common::soft_switching::SharingShift;
use crate::units::Farad;

/// Capacitance that changes nothing, in resonant capacitances.
const VERY_LARGE: f64 = 1e6;

/// What is known of the flying capacitors, one field a question.
#[derive(Debug)]
pub struct CapacitorStudy {
    /// How it was sampled.
    pub settings: Settings,
    /// Drives of the operating points.
    pub drives: Vec<Drive>,
    /// By how much the dead time shifts sharing at most, which yields leave out; none where that is small.
    pub sharing_shift: Option<SharingShift>,
    /// How large they must be.
    pub size: SizeStudy,
    /// How fast they find their voltages.
    pub settling: SettlingStudy,
    /// How far they drift in full-bridge drive.
    pub drift: DriftStudy,
    /// Which start keeps what the switches may block.
    pub start_up: StartUpStudy,
}

/// Answers all questions about the flying capacitors.
///
/// # Errors
///
/// When the nominal converter does not work even with very large flying capacitors, and when the user
/// asks to stop.
pub fn capacitors(
    scenario: &Scenario,
    settings: Settings,
    starts: StartMethod,
    stop: &AtomicBool,
    progress: &mut dyn Progress,
) -> Result<CapacitorStudy, StudyError> {
    let study = study(scenario, settings, starts, stop, progress);
    // How many samples of one size were done tells nothing of the whole.
    study.map_err(StudyError::without_count)
}

fn study(
    scenario: &Scenario,
    settings: Settings,
    starts: StartMethod,
    stop: &AtomicBool,
    progress: &mut dyn Progress,
) -> Result<CapacitorStudy, StudyError> {
    let very_large = Farad(VERY_LARGE * scenario.nominal.resonant_capacitance.0);
    let reference = Scenario { flying_capacitance: very_large, ..scenario.clone() };
    let session = Session::in_arrangements(&[Arrangement::Chain], &reference, settings, stop)?;
    let points = session.baselines().iter().map(|baseline| &baseline.case.point);
    let new = points.filter(|point| point.condition.age == Age::New);
    let drives = new.map(|point| point.drive).collect();
    let size = size::size(scenario, &session, progress)?;
    let settling = settling::settling(scenario, &session, progress)?;
    let drift = drift::drift(scenario, &session);
    let start_up = start_up::start_up(scenario, &session, starts, progress)?;
    // Where the converter does not work with its own capacitors, no shift is told.
    let own = Session::in_arrangements(&[Arrangement::Chain], scenario, settings, stop).ok();
    let sharing_shift = own.and_then(|session| SharingShift::largest(&session));
    Ok(CapacitorStudy { settings, drives, sharing_shift, size, settling, drift, start_up })
}
