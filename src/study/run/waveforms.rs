//! Waveforms to look at: the nominal, the median and the worst converter, at the operating point that limits.

use crate::converter::{Arrangement, Converter};
use crate::solver::Method;
use crate::solver::waveforms::waveforms;
use crate::study::run::evaluation::TallyReader;
use crate::study::run::result::{
    ArrangementWaveforms, CaseResult, ConverterWaveforms, Joint, PointWaveforms, ShownConverter,
};

/// At the operating point that limits the chain, else where its worst sharing error is largest. None with the
/// averaged solver.
pub(super) fn at_limiting_point(
    reader: &TallyReader<'_>,
    cases: &[CaseResult],
    chain: &Joint,
) -> Option<PointWaveforms> {
    (reader.session.settings().method == Method::Exact).then_some(())?;
    let limiting = chain.binding.as_ref().map(|binding| binding.operating_point.as_str());
    let error = |case: &CaseResult| case.worst.as_ref().map_or(0.0, |worst| worst.sharing_error);
    let of_chain = cases.chunks(Arrangement::ALL.len()).enumerate();
    let (n, pair) = of_chain
        .filter(|(_, pair)| limiting.is_none_or(|name| pair[0].operating_point() == name))
        .reduce(|most, next| if error(&next.1[0]) > error(&most.1[0]) { next } else { most })?;
    let shown = |converter: &Converter, which| of_converter(reader, converter, which, pair);
    let mut converters = vec![shown(reader.session.nominal(), ShownConverter::Nominal)];
    converters.extend(reader.median_sample(n * Arrangement::ALL.len()).map(|median| {
        let converter = reader.drawn(median.sample, &pair[0].baseline.case);
        shown(&converter, ShownConverter::Median(median))
    }));
    let worst = pair[0].worst.as_ref();
    converters.extend(worst.map(|own| shown(&own.converter, ShownConverter::Worst(own.sample))));
    Some(PointWaveforms { operating_point: pair[0].operating_point().to_owned(), converters })
}

fn of_converter(
    reader: &TallyReader<'_>,
    converter: &Converter,
    which: ShownConverter,
    pair: &[CaseResult],
) -> ConverterWaveforms {
    let solved = |result: &CaseResult| {
        let case = &result.baseline.case;
        let outcome = Method::Exact.solve(converter, case);
        let (state, sharing) = (outcome.solved()?, reader.sharing());
        let shared = state.phases.iter().map(|phase| phase.shared(sharing.share).0);
        Some(ArrangementWaveforms {
            phases: waveforms(&converter.at(&case.point.condition), case, state)?,
            sharing_error: sharing.measure.error(shared),
            switching_frequency: state.switching_frequency,
        })
    };
    let [chain, paralleled] = [pair.first(), pair.get(1)].map(|case| case.and_then(solved));
    ConverterWaveforms { converter: which, arrangements: [chain, paralleled] }
}
