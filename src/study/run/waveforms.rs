//! Waveforms to look at: the nominal, the median and the worst converter, at the operating point that limits.

use crate::converter::{Arrangement, Converter};
use crate::solver::Method;
use crate::solver::waveforms::waveforms;
use crate::study::run::evaluation::TallyReader;
use crate::study::run::result::{
    ArrangementWaveforms, CaseResult, ConverterWaveforms, Joint, PointWaveforms, WaveformChoice,
};

/// At the operating point that limits the chain, else where its worst sharing error is largest. None with the
/// averaged solver.
pub(super) fn at_limiting_point(
    reader: &TallyReader<'_>,
    cases: &[CaseResult],
    chain: &Joint,
) -> Option<PointWaveforms> {
    (reader.session.settings().method == Method::Exact).then_some(())?;
    let place = limiting_point(cases, chain)?;
    let pair = cases.get(place..)?;
    let of_sample = |sample: u64, choice| ConverterWaveforms {
        sample: Some(sample),
        choice,
        arrangements: solved(reader, &reader.drawn(sample, &pair[0].baseline.case), pair),
    };
    let nominal = ConverterWaveforms {
        sample: None,
        choice: WaveformChoice::Nominal,
        arrangements: solved(reader, reader.session.nominal(), pair),
    };
    let median = reader.median_sample(place);
    let median = median.map(|own| of_sample(own.sample, WaveformChoice::Median(own)));
    let worst = pair[0].worst.as_ref();
    let worst = worst.map(|own| of_sample(own.sample, WaveformChoice::Worst));
    Some(PointWaveforms {
        operating_point: pair[0].operating_point().to_owned(),
        converters: [Some(nominal), median, worst].into_iter().flatten().collect(),
    })
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

/// A converter in both arrangements.
fn solved(
    reader: &TallyReader<'_>,
    converter: &Converter,
    pair: &[CaseResult],
) -> [Option<ArrangementWaveforms>; 2] {
    let sharing = reader.sharing();
    [0, 1].map(|n| {
        let case = &pair.get(n)?.baseline.case;
        let outcome = Method::Exact.solve(converter, case);
        let state = outcome.solved()?;
        let shared = state.phases.iter().map(|phase| phase.shared(sharing.share).0);
        Some(ArrangementWaveforms {
            phases: waveforms(&converter.at(&case.point.condition), case, state)?,
            sharing_error: sharing.measure.error(shared),
            switching_frequency: state.switching_frequency,
        })
    })
}
