//! Waveforms to look at: the nominal and the worst converter, at the operating point that limits.

use crate::converter::{Arrangement, Converter};
use crate::solver::Method;
use crate::solver::waveforms::waveforms;
use crate::study::common::session::Session;
use crate::study::run::result::{CaseResult, ConverterWaveforms, Joint, PointWaveforms};

/// At the operating point that limits the chain, else where its worst sharing error is largest. None with the
/// averaged solver.
pub(super) fn at_limiting_point(
    session: &Session,
    cases: &[CaseResult],
    chain: &Joint,
) -> Option<PointWaveforms> {
    (session.settings().method == Method::Exact).then_some(())?;
    let pair = cases.get(limiting_point(cases, chain)?..)?;
    let mut converters = vec![of_converter(session.nominal(), None, pair)];
    let worst = pair[0].worst.as_ref();
    converters.extend(worst.map(|own| of_converter(&own.converter, Some(own.sample), pair)));
    Some(PointWaveforms { operating_point: pair[0].operating_point().to_owned(), converters })
}

/// The place of the chain's case that limits, else of that with the largest sharing error.
pub(super) fn limiting_point(cases: &[CaseResult], chain: &Joint) -> Option<usize> {
    let limiting = chain.binding.as_ref().map(|binding| binding.operating_point.as_str());
    let error = |case: usize| cases[case].worst.as_ref().map_or(0.0, |worst| worst.sharing_error);
    let of_chain = (0..cases.len()).step_by(Arrangement::ALL.len());
    of_chain
        .filter(|case| limiting.is_none_or(|name| cases[*case].operating_point() == name))
        .reduce(|most, next| if error(next) > error(most) { next } else { most })
}

fn of_converter(
    converter: &Converter,
    sample: Option<u64>,
    pair: &[CaseResult],
) -> ConverterWaveforms {
    let solved = |result: &CaseResult| {
        let case = &result.baseline.case;
        let outcome = Method::Exact.solve(converter, case);
        waveforms(&converter.at(&case.point.condition), case, outcome.solved()?)
    };
    let [chain, paralleled] = [pair.first(), pair.get(1)].map(|case| case.and_then(solved));
    ConverterWaveforms { sample, arrangements: [chain, paralleled] }
}
