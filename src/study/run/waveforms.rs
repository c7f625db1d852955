//! Waveforms to look at: the nominal, the median and the worst converter, at the operating point that limits.

use crate::converter::Converter;
use crate::solver::Method;
use crate::study::common::waveforms::ArrangementWaveforms;
use crate::study::run::evaluation::TallyReader;
use crate::study::run::result::{
    CaseResult, ConverterWaveforms, Joint, PointWaveforms, WaveformChoice,
};

/// At the operating point that limits the chain, else where its worst sharing error is largest. None with the
/// averaged solver.
pub(super) fn at_limiting_point(
    reader: &TallyReader<'_>,
    cases: &[CaseResult],
    chain: &Joint,
) -> Option<PointWaveforms> {
    (reader.session.settings().method == Method::Exact).then_some(())?;
    let place = chain.limiting_case(cases)?;
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

/// A converter in both arrangements.
fn solved(
    reader: &TallyReader<'_>,
    converter: &Converter,
    pair: &[CaseResult],
) -> [Option<ArrangementWaveforms>; 2] {
    let sharing = reader.sharing();
    [0, 1].map(|n| ArrangementWaveforms::solve(converter, &pair.get(n)?.baseline.case, sharing))
}
