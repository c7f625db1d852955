//! A part on the terminal: which samples it holds, and how the parts are joined.

use super::part::PartHeader;
use crate::report::format::numbers::count;
use crate::report::format::screen::{Blocks, CommandWord, NextQuestion, Screen};
use crate::scenario::Scenario;
use crate::study::common::settings::Settings;

pub(super) fn screen(scenario: &Scenario, settings: &Settings, header: &PartHeader) -> Screen {
    let samples = header.samples();
    let place = header.place;
    let answer = format!(
        "Part {} of {}: samples {} to {} of {}, seed {}\n\
         What was counted of them is in tallies.bin. The verdict follows once all parts are joined.\n",
        place.number,
        place.of,
        count(samples.start),
        count(samples.end - 1),
        count(settings.samples),
        settings.seed,
    );
    let next = NextQuestion {
        question: "what do all parts say together?",
        words: vec![CommandWord::Plain("merge".to_owned()), CommandWord::Folder],
    };
    Blocks { title: scenario.title.clone(), answer, ..Blocks::default() }.screen_of_values("", next)
}
