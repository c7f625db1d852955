//! Every state of the answer, on terminal, page and in files: what they say must agree.

use super::*;
use crate::converter::{Arrangement, ConverterSize};
use crate::engine::EngineError;
use crate::population::RandomSource;
use crate::solver::Method;
use crate::study::common::demand::{Binding, Demand};
use crate::study::common::error::StudyError;
use crate::study::common::pairs::{Flags, Pairs};
use crate::study::common::settings::Settings;
use crate::study::common::trials::{PairedTrials, Trial};
use crate::study::grades::{
    BalancingVerdict, GradeSet, RankingAnswer, RankingRequest, Stage, rank,
};

/// Three phases, one operating point, 99 % at 95 % confidence; the data in it are invented.
const SHELF: &str = include_str!("../../../tests/data/shelf.toml");

fn scenario(grades: usize) -> Scenario {
    let mut text = format!("{SHELF}\n[grades]\nquantity = 1000\nother_cost = 10\n");
    for n in 0..grades {
        text += &format!(
            "[[grade.turns_ratio]]\nname = \"g{n}\"\nshape = \"uniform\"\nband = \"1 %\"\n\
             price = {n}\n"
        );
    }
    Scenario::parse("shelf.toml", &text).unwrap()
}

/// A comparison where the first samples of each set pass, as many as `good` says; interrupted after
/// so many evaluations.
struct StandIn<'a> {
    samples: usize,
    good: &'a dyn Fn(&GradeSet) -> usize,
    evaluations: usize,
}

impl StandIn<'_> {
    fn ranking(mut self, scenario: &Scenario) -> Ranking {
        let mut evaluate = |_: Stage, sets: &[GradeSet], _: RandomSource| self.tried(sets);
        let settings = Settings { samples: 0, seed: 5, method: Method::Exact, threads: 1 };
        let grades = scenario.grades.as_ref().unwrap();
        let size = ConverterSize { phases: scenario.phases, legs: 2 };
        rank(RankingRequest { scenario, grades, settings, size }, &mut evaluate).unwrap()
    }

    fn tried(&mut self, sets: &[GradeSet]) -> Result<PairedTrials, StudyError> {
        if self.evaluations == 0 {
            return Err(EngineError::Interrupted(0).into());
        }
        self.evaluations -= 1;
        let flags = sets.iter().map(|set| {
            let mut flags = Flags::all(self.samples);
            ((self.good)(set)..self.samples).for_each(|n| flags.clear(n));
            flags
        });
        let mut pairs = Pairs::new(sets.len());
        pairs.take(&flags.collect::<Vec<_>>(), self.samples);
        let trials = (0..sets.len()).map(|n| {
            let (good, samples) = (pairs.good(n), self.samples as u64);
            let binding = Binding {
                operating_point: "full load".into(),
                demand: Demand { figure: None, limit: f64::NAN },
                missed: samples - good,
            };
            Trial { good, samples, binding: (good < samples).then_some(binding) }
        });
        Ok(PairedTrials { trials: trials.collect(), pairs, interrupted: false })
    }
}

/// A state of the answer, and how it comes about.
struct State<'a> {
    answer: RankingAnswer,
    grades: usize,
    samples: usize,
    /// Good samples in the chain and without charge balancing.
    good: &'a dyn Fn(&GradeSet) -> usize,
    evaluations: usize,
    /// What the terminal says.
    says: &'a [&'a str],
}

fn is_chain(set: &GradeSet) -> bool {
    set.arrangement == Arrangement::Chain
}

/// All states, with one set and with several.
fn states(check: impl Fn(&State<'_>)) {
    use RankingAnswer as Answer;
    let all: [State; 11] = [
        State {
            answer: Answer::Recommended,
            grades: 5,
            samples: 5000,
            good: &|set| if is_chain(set) { 5000 } else { 900 },
            evaluations: 9,
            says: &["Recommended: n g0 PASS", "lowers the cost per good converter (95 %"],
        },
        State {
            answer: Answer::Recommended,
            grades: 1,
            samples: 5000,
            good: &|_| 5000,
            evaluations: 9,
            says: &["Recommended: n g0 PASS", "The only set without it is n g0."],
        },
        State {
            answer: Answer::NotDecided,
            grades: 5,
            samples: 5000,
            good: &|_| 4952,
            evaluations: 9,
            says: &["none is shown to meet", "NOT DECIDED", "would show a pass", "another seed"],
        },
        State {
            answer: Answer::NotDecided,
            grades: 1,
            samples: 5000,
            good: &|_| 4948,
            evaluations: 9,
            says: &["none is shown to meet", "NOT DECIDED", "would show a fail"],
        },
        State {
            answer: Answer::TooFewSamples,
            grades: 5,
            samples: 200,
            good: &|_| 200,
            evaluations: 9,
            says: &["200 samples are too few", "At least 528 samples are needed for any pass"],
        },
        State {
            answer: Answer::Missed,
            grades: 5,
            samples: 5000,
            good: &|_| 4000,
            evaluations: 9,
            says: &["all 4 sets on the short list miss the target", "FAIL"],
        },
        State {
            answer: Answer::Missed,
            grades: 1,
            samples: 5000,
            good: &|_| 4000,
            evaluations: 9,
            says: &["it misses the target", "FAIL", "The only set without it is"],
        },
        State {
            answer: Answer::NoGoodConverter,
            grades: 5,
            samples: 5000,
            good: &|_| 0,
            evaluations: 9,
            says: &["in the samples none makes a good converter", "n g0 misses the limit"],
        },
        State {
            answer: Answer::NoGoodConverter,
            grades: 2,
            samples: 5000,
            good: &|set| if is_chain(set) { 0 } else { 5000 },
            evaluations: 9,
            says: &["in the samples none makes", "raises the cost per good converter (95 %"],
        },
        State {
            answer: Answer::NotVerified,
            grades: 5,
            samples: 5000,
            good: &|_| 5000,
            evaluations: 1,
            says: &["PARTIAL", "interrupted before the fresh samples", "Not verified"],
        },
        State {
            answer: Answer::NotVerified,
            grades: 1,
            samples: 100,
            good: &|_| 100,
            evaluations: 1,
            says: &["PARTIAL", "interrupted before the fresh samples"],
        },
    ];
    all.iter().for_each(check);
}

fn reported(state: &State) -> (Ranking, Report) {
    let scenario = scenario(state.grades);
    let State { samples, good, evaluations, .. } = *state;
    let ranking = StandIn { samples, good, evaluations }.ranking(&scenario);
    let report = report(&scenario, scenario.grades.as_ref().unwrap(), &ranking, None).unwrap();
    (ranking, report)
}

/// The text of a page, without tags, up to its methods.
fn shown(page: &str) -> String {
    let page = page.split("<section id=\"methods\"").next().unwrap();
    let body = page.split("<main").nth(1).unwrap();
    let text = body.split('<').map(|part| part.split_once('>').map_or("", |(_, text)| text));
    text.collect::<Vec<_>>().join("").replace('\u{a0}', " ")
}

#[test]
fn terminal_page_and_files_agree_in_every_state() {
    states(|state| {
        let (ranking, report) = reported(state);
        assert_eq!(ranking.answer(0.99), state.answer, "{}", report.text);
        let text = report.text.replace("\n  ", " ").replace(" \n", "\n");
        for words in state.says {
            assert!(text.contains(words), "`{words}` is missing:\n{}", report.text);
        }
        let page = report.files.iter().find(|(name, _)| *name == "report.html").unwrap();
        let csv = report.files.iter().find(|(name, _)| *name == "grades.csv").unwrap();
        let page = shown(&page.1);
        let recommends = state.answer == RankingAnswer::Recommended;
        for said in [&text, &page] {
            assert_eq!(said.contains("No set is recommended"), !recommends, "{said}");
            assert_eq!(said.contains("recommended set"), recommends, "{said}");
            for wrong in ["None of the 1", "of 1 set", "1 sets", "Of 1 other", "all 1", "1 samples"]
            {
                assert!(!said.contains(wrong), "`{wrong}`:\n{said}");
            }
        }
        assert_eq!(text.contains("Recommended:"), recommends);
        assert_eq!(page.contains("Recommended, in the chain"), recommends);
        assert_eq!(csv.1.lines().any(|row| is_marked(&csv.1, row)), recommends, "{}", csv.1);
        let results = &report.summary;
        let word = serde_json::to_value(state.answer).unwrap();
        assert_eq!(results["answer"], word);
        assert_eq!(results["verdict"] == "pass", recommends);
        assert_eq!(text.contains("PASS"), recommends);
        assert_eq!(results["charge_balancing"].is_null(), ranking.is_partial());
    });
}

/// Whether a row of `grades.csv` has `true` in the column `recommended`.
fn is_marked(csv: &str, row: &str) -> bool {
    let column = csv.lines().next().unwrap().split(',').position(|name| name == "recommended");
    row.split(',').nth(column.unwrap()) == Some("true")
}

/// Where no set makes a good converter, no set is named, nor compared with.
#[test]
fn without_a_good_converter_no_set_is_named() {
    states(|state| {
        let (_, report) = reported(state);
        let none = state.answer == RankingAnswer::NoGoodConverter;
        for word in ["cost per good converter: ", "* the ", "Reference"] {
            let said = report.text.contains(word);
            assert!(!(said && none), "{}", report.text);
        }
    });
}

/// An answer on charge balancing is worded by its reason, once.
#[test]
fn charge_balancing_is_worded_by_its_reason() {
    let chain = |set: &GradeSet| if is_chain(set) { 5000 } else { 4960 };
    let plain = |set: &GradeSet| if is_chain(set) { 4960 } else { 5000 };
    let equal = |_: &GradeSet| 5000;
    let both: [(&dyn Fn(&GradeSet) -> usize, _, _); 3] = [
        (&chain, BalancingVerdict::Recommended, "lowers the cost per good converter ("),
        (&plain, BalancingVerdict::NotRecommended, "raises the cost per good converter ("),
        (&equal, BalancingVerdict::NotDecided, "Whether charge balancing lowers the cost"),
    ];
    let scenario = scenario(2);
    for (good, verdict, words) in both {
        let ranking = StandIn { samples: 5000, good, evaluations: 9 }.ranking(&scenario);
        assert_eq!(ranking.balancing.unwrap().verdict, verdict);
        let said = report(&scenario, scenario.grades.as_ref().unwrap(), &ranking, None).unwrap();
        assert!(said.text.contains(words), "{}", said.text);
    }
}

/// Names too long to stand beside the numbers have a line of their own; short ones have none.
#[test]
fn long_names_of_sets_keep_to_one_line() {
    let long = "a grade whose name takes most of a line of the terminal";
    for (name, lines) in [("g", 1), (long, 2)] {
        let text = scenario_text(name);
        let scenario = Scenario::parse("shelf.toml", &text).unwrap();
        let good = |_: &GradeSet| 5000;
        let ranking = StandIn { samples: 5000, good: &good, evaluations: 9 }.ranking(&scenario);
        let said = report(&scenario, scenario.grades.as_ref().unwrap(), &ranking, None).unwrap();
        let table = said.text.split("short list, fresh samples").nth(1).unwrap();
        let table = table.split("\n\n").next().unwrap();
        assert_eq!(table.lines().count(), 1 + lines, "{}", said.text);
        assert!(said.text.lines().all(|line| line.chars().count() <= 80), "{}", said.text);
    }
}

fn scenario_text(name: &str) -> String {
    let grade = |n: usize| {
        format!(
            "[[grade.turns_ratio]]\nname = \"{name} {n}\"\nshape = \"uniform\"\nband = \"1 %\"\n\
             price = {n}\n"
        )
    };
    format!("{SHELF}\n[grades]\nquantity = 1000\nother_cost = 10\n{}{}", grade(0), grade(1))
}
