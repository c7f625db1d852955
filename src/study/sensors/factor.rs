//! What is found at which factor on all tolerance bands, or on all errors of the sensors.

use serde::Serialize;

use crate::scenario::{Scenario, SensorRequest, Tolerance};

/// Ratio of neighbouring factors of the survey.
const STRIDE: f64 = std::f64::consts::SQRT_2;
/// Strides to either side: a factor of 8.
const STRIDES: i32 = 6;
/// How close borders are closed in, as a ratio.
const CLOSE: f64 = 1.01;
/// No band may reach the nominal value itself.
const WIDEST_BAND: f64 = 0.95;

/// An answer that an interval gives.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Finding {
    /// Surely so: the whole interval says it.
    Yes,
    /// The samples do not tell.
    Open,
    /// Surely not.
    No,
}

/// Factors between which the same was found.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Span {
    /// What was found.
    pub finding: Finding,
    /// Least factor looked at.
    pub from: f64,
    /// Greatest factor looked at.
    pub to: f64,
}

/// Which way a survey goes from 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reach {
    /// Least factor; 1 for none below.
    pub least: f64,
    /// Greatest factor; 1 for none above.
    pub greatest: f64,
}

/// Most evaluations: strides to both sides, and four borders' halvings.
pub(super) const EVALUATIONS: u64 = 1 + 2 * 6 + 4 * 6;

/// Goes outward from 1, either way until the answer is the contrary of that at 1, or is sure where
/// that at 1 is open, and closes in on every border between two answers until its ends are 1 %
/// apart.
///
/// With common random numbers and a yield that falls with the factor, the ends of the span left
/// open are those of a confidence interval of the factor at which the yield crosses the target,
/// the inversion of a test at every factor. Sound as far as no answer comes and goes again within a
/// stride.
///
/// # Errors
///
/// Those of `find`.
pub fn survey<E>(
    reach: Reach,
    mut find: impl FnMut(f64) -> Result<Finding, E>,
) -> Result<Vec<Span>, E> {
    let at_one = find(1.0)?;
    let mut seen = vec![(1.0, at_one)];
    for sign in [1, -1] {
        for stride in 1..=STRIDES {
            let factor = STRIDE.powi(sign * stride).clamp(reach.least, reach.greatest);
            if seen.iter().any(|(x, _)| close(*x, factor)) {
                break;
            }
            let finding = find(factor)?;
            seen.push((factor, finding));
            if finding != at_one && finding != Finding::Open {
                break;
            }
        }
    }
    close_in(&mut seen, find)?;
    Ok(spans(&seen))
}

fn close(a: f64, b: f64) -> bool {
    (a / b).max(b / a) <= CLOSE
}

fn close_in<E>(
    seen: &mut Vec<(f64, Finding)>,
    mut find: impl FnMut(f64) -> Result<Finding, E>,
) -> Result<(), E> {
    loop {
        seen.sort_by(|a, b| a.0.total_cmp(&b.0));
        let apart =
            |pair: &&[(f64, Finding)]| pair[0].1 != pair[1].1 && !close(pair[0].0, pair[1].0);
        let Some(middle) = seen.windows(2).find(apart).map(|p| (p[0].0 * p[1].0).sqrt()) else {
            return Ok(());
        };
        let finding = find(middle)?;
        seen.push((middle, finding));
    }
}

fn spans(seen: &[(f64, Finding)]) -> Vec<Span> {
    let runs = seen.chunk_by(|a, b| a.1 == b.1);
    runs.map(|run| Span { finding: run[0].1, from: run[0].0, to: run[run.len() - 1].0 }).collect()
}

/// The ends of sure spans that border on another one, with what was found there: what is worth
/// being looked at again.
pub(super) fn borders(spans: &[Span]) -> Vec<(f64, Finding)> {
    let last = spans.len().saturating_sub(1);
    let ends = spans.iter().enumerate().flat_map(|(n, span)| {
        [(n > 0, span.from), (n < last, span.to)].map(|(borders, x)| (borders, x, span.finding))
    });
    let sure = ends.filter(|(borders, _, finding)| *borders && *finding != Finding::Open);
    sure.map(|(_, x, finding)| (x, finding)).collect()
}

fn scaled(tolerance: Tolerance, factor: f64) -> Tolerance {
    Tolerance { band: tolerance.band * factor, ..tolerance }
}

/// The scenario with all bands of the parts multiplied by a factor; sensors stay as they are.
#[must_use]
pub fn widened(scenario: &Scenario, factor: f64) -> Scenario {
    let mut wider = scenario.clone();
    for (parameter, tolerance) in scenario.tolerances.iter() {
        wider.tolerances = wider.tolerances.with(parameter, Some(scaled(tolerance, factor)));
    }
    wider
}

/// The sensors with all their errors multiplied by a factor.
#[must_use]
pub(super) fn blurred(request: &SensorRequest, factor: f64) -> SensorRequest {
    let scale = |error: Option<Tolerance>| error.map(|t| scaled(t, factor));
    SensorRequest {
        gain_error: scale(request.gain_error),
        drift: scale(request.drift),
        offset: scale(request.offset),
        ..*request
    }
}

/// The greatest factor at which each of these bands stays below the nominal value; 1, and so no
/// search upwards, where one of them is wider than that by itself.
pub(super) fn greatest_factor(bands: impl Iterator<Item = f64>) -> f64 {
    (WIDEST_BAND / bands.fold(0.0, f64::max)).max(1.0)
}

#[cfg(test)]
mod tests {
    use super::Finding::{No, Open, Yes};
    use super::*;

    fn between(yes: f64, no: f64) -> impl Fn(f64) -> Result<Finding, ()> {
        move |x| {
            Ok(if x <= yes {
                Yes
            } else if x < no {
                Open
            } else {
                No
            })
        }
    }

    const ALL: Reach = Reach { least: 0.0, greatest: 1e3 };

    /// A stand-in whose borders are known: each lies within 1 % of the ends found.
    #[test]
    fn known_borders_are_found() {
        for (yes, no) in [(0.3, 0.31), (0.9, 1.2), (1.3, 1.5), (0.5, 0.9), (1.0, 1.001), (0.9, 3.0)]
        {
            let spans = survey(ALL, between(yes, no)).unwrap();
            let of = |f| spans.iter().find(|s| s.finding == f).unwrap();
            assert!(of(Yes).to <= yes && yes < of(Yes).to * CLOSE, "{yes} {no}: {spans:?}");
            assert!(of(No).from >= no && no > of(No).from / CLOSE, "{yes} {no}: {spans:?}");
            let sure: Vec<_> = borders(&spans).into_iter().map(|(_, f)| f).collect();
            assert_eq!(sure, [Yes, No]);
        }
    }

    /// A band may be as wide as it likes: the survey then looks at the bands as they are.
    #[test]
    fn no_band_is_too_wide_to_be_looked_at() {
        for (band, factor) in [(0.97, 1.0), (0.95, 1.0), (0.5, 1.9), (0.0, f64::INFINITY)] {
            let found = greatest_factor([0.0, band].into_iter());
            assert!(found == factor || (found - factor).abs() < 1e-12, "{band}: {found}");
        }
        let reach = Reach { least: 1.0, greatest: greatest_factor([0.97].into_iter()) };
        assert_eq!(survey(reach, between(2.0, 3.0)).unwrap().len(), 1);
    }

    #[test]
    fn it_goes_no_farther_than_it_must() {
        let mut asked = Vec::new();
        let reach = Reach { least: 1.0, ..ALL };
        let spans = survey::<()>(reach, |x| {
            asked.push(x);
            between(1.1, 1.2)(x)
        });
        assert_eq!(spans.unwrap().len(), 3);
        assert!(asked.iter().all(|x| (1.0..1.5).contains(x)) && asked.len() < 14, "{asked:?}");
        let few = survey(Reach { least: 0.0, greatest: 1.2 }, between(1.3, 1.4)).unwrap();
        assert_eq!((few.len(), few[0].finding, few[0].to), (1, Yes, 1.2));
        assert!(borders(&few).is_empty());
        assert_eq!(survey(ALL, |_| Err("stopped")), Err("stopped"));
    }
}
