//! Every state of the answer, on terminal, page and in files: what they say must agree.

use serde_json::Value;

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

/// So many grades of one part, named by the prefix and their number, which is their price too.
fn scenario_with(prefix: &str, grades: usize) -> Scenario {
    let grade = |n: usize| {
        format!(
            "[[grade.turns_ratio]]\nname = \"{prefix}{n}\"\nshape = \"uniform\"\n\
             band = \"1 %\"\nprice = {n}\n"
        )
    };
    let grades: String = (0..grades).map(grade).collect();
    let text = format!("{SHELF}\n[grades]\nquantity = 1000\nother_cost = 10\n{grades}");
    Scenario::parse("shelf.toml", &text).unwrap()
}

fn scenario(grades: usize) -> Scenario {
    scenario_with("g", grades)
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
struct State {
    answer: RankingAnswer,
    grades: usize,
    samples: usize,
    /// Good samples in the chain and without charge balancing.
    good: fn(&GradeSet) -> usize,
    evaluations: usize,
    /// What the terminal says.
    says: &'static [&'static str],
}

fn is_chain(set: &GradeSet) -> bool {
    set.arrangement == Arrangement::Chain
}

/// All states, with one set and with several.
const STATES: [State; 13] = [
    State {
        answer: RankingAnswer::Recommended,
        grades: 5,
        samples: 5000,
        good: |set| if is_chain(set) { 5000 } else { 900 },
        evaluations: 9,
        says: &[
            "Recommended, with charge balancing: n g0 PASS",
            "lowers the cost per good converter (95 %",
        ],
    },
    State {
        answer: RankingAnswer::Recommended,
        grades: 1,
        samples: 5000,
        good: |_| 5000,
        evaluations: 9,
        says: &[
            "Recommended, with charge balancing: n g0 PASS",
            "The only set without it is n g0.",
        ],
    },
    State {
        answer: RankingAnswer::NotDecided,
        grades: 5,
        samples: 5000,
        good: |_| 4952,
        evaluations: 9,
        says: &[
            "none is shown to meet",
            "NOT DECIDED",
            "would decide in 9 of 10",
            "another --seed",
        ],
    },
    State {
        answer: RankingAnswer::NotDecided,
        grades: 1,
        samples: 5000,
        good: |_| 4948,
        evaluations: 9,
        says: &["the only one is not shown", "NOT DECIDED", "would decide in 9 of 10"],
    },
    State {
        answer: RankingAnswer::TooFewSamples,
        grades: 5,
        samples: 200,
        good: |_| 200,
        evaluations: 9,
        says: &["200 samples are too few", "At least 528 samples are needed for any pass"],
    },
    State {
        answer: RankingAnswer::Missed,
        grades: 5,
        samples: 5000,
        good: |_| 4000,
        evaluations: 9,
        says: &["all 4 sets on the short list miss the target", "FAIL"],
    },
    State {
        answer: RankingAnswer::Missed,
        grades: 1,
        samples: 5000,
        good: |_| 4000,
        evaluations: 9,
        says: &["the only one misses the target", "FAIL", "The only set without it is"],
    },
    State {
        answer: RankingAnswer::NoGoodConverter,
        grades: 5,
        samples: 5000,
        good: |_| 0,
        evaluations: 9,
        says: &["in the samples none makes a good converter", "n g0 misses the limit"],
    },
    State {
        answer: RankingAnswer::NoGoodConverter,
        grades: 2,
        samples: 5000,
        good: |set| if is_chain(set) { 0 } else { 5000 },
        evaluations: 9,
        says: &[
            "in the samples none makes",
            "Recommended, without charge balancing: n g0 PASS",
            "raises the cost per good converter (95 %",
        ],
    },
    State {
        answer: RankingAnswer::Recommended,
        grades: 5,
        samples: 5000,
        good: |set| if is_chain(set) { 4970 } else { 5000 },
        evaluations: 9,
        says: &[
            "Recommended, without charge balancing: n g0 PASS",
            "raises the cost per good converter (95 %",
            "the cheapest set with charge balancing that meets the target: n g0 PASS",
            "Of 4 other sets with charge balancing, 4 cost more",
        ],
    },
    State {
        answer: RankingAnswer::Missed,
        grades: 5,
        samples: 5000,
        good: |set| if is_chain(set) { 4000 } else { 4950 },
        evaluations: 9,
        says: &[
            "No set is recommended: charge balancing is the worse choice",
            "no set without it is shown to meet the target of 99 %",
            "The best set without charge balancing: n g0 NOT DECIDED",
            "raises the cost per good converter (95 %",
            "all 4 sets on the short list miss the target",
        ],
    },
    State {
        answer: RankingAnswer::NotVerified,
        grades: 5,
        samples: 5000,
        good: |_| 5000,
        evaluations: 1,
        says: &["PARTIAL", "interrupted before the fresh samples", "Not verified"],
    },
    State {
        answer: RankingAnswer::NotVerified,
        grades: 1,
        samples: 100,
        good: |_| 100,
        evaluations: 1,
        says: &["PARTIAL", "interrupted before the fresh samples"],
    },
];

fn reported(state: &State) -> (Ranking, Report) {
    let scenario = scenario(state.grades);
    let State { samples, good, evaluations, .. } = *state;
    let ranking = StandIn { samples, good: &good, evaluations }.ranking(&scenario);
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

fn file<'a>(report: &'a Report, name: &str) -> &'a str {
    report.files.iter().find(|(file, _)| *file == name).map(|(_, text)| text.as_str()).unwrap()
}

/// The text of the terminal with its lines joined.
fn said(report: &Report) -> String {
    report.screen.text(true).replace("\n  ", " ")
}

#[test]
fn terminal_and_page_agree_in_every_state() {
    for state in &STATES {
        let (ranking, report) = reported(state);
        assert_eq!(ranking.answer(0.99), state.answer, "{}", report.screen.text(true));
        let (text, page) = (said(&report), shown(file(&report, "report.html")));
        let lacks = state.says.iter().find(|words| !text.contains(**words));
        assert_eq!(lacks, None, "{text}");
        let meets = state.answer == RankingAnswer::Recommended;
        let is_plain = ranking.is_better_without_balancing();
        let recommends = ranking.set_to_build(0.99).is_some();
        for said in [&text, &page] {
            assert_eq!(said.contains("balancing is recommended"), !meets, "{said}");
            assert_eq!(said.contains("recommended set"), meets && !is_plain, "{said}");
            assert_eq!(said.contains("Recommended, with charge"), meets && !is_plain, "{said}");
            let (is_built, is_best) =
                ("Recommended, without charge", "The best set without charge balancing");
            assert_eq!(said.contains(is_built), is_plain && recommends, "{said}");
            assert_eq!(said.contains(is_best), is_plain && !recommends, "{said}");
            let refused = "No set is recommended: charge balancing is the worse choice";
            assert_eq!(said.contains(refused), is_plain && !recommends, "{said}");
            let first = said.find("Recommended, without").or(said.find(refused)).unwrap_or(0);
            assert!(said.find("Reference, the").is_none_or(|second| first < second), "{said}");
            let wrong =
                ["None of the 1", "of 1 set", "1 sets", "Of 1 other", "all 1 ", " 1 samples"];
            assert!(!wrong.iter().any(|words| said.contains(words)), "{said}");
        }
        assert_eq!(text.contains("PASS"), recommends);
    }
}

#[test]
fn files_agree_with_the_answer_in_every_state() {
    for state in &STATES {
        let (ranking, report) = reported(state);
        let recommends = ranking.set_to_build(0.99).is_some();
        let csv = file(&report, "grades.csv");
        assert_eq!(csv.lines().any(|row| is_marked(csv, row)), recommends, "{csv}");
        let summary = report.summary.value().unwrap();
        assert_eq!(summary["answer"], serde_json::to_value(state.answer).unwrap());
        assert_eq!(summary["verdict"] == "pass", state.answer == RankingAnswer::Recommended);
        assert_eq!(!summary["set_to_build"].is_null(), recommends);
        if summary["charge_balancing"] == "not recommended" {
            let best = if recommends { &summary["without_balancing"] } else { &Value::Null };
            assert_eq!(&summary["set_to_build"], best);
        }
        let open = &summary["charge_balancing_left_open_by"];
        assert_eq!(!open.is_null(), summary["charge_balancing"] == "not decided", "{summary}");
        assert_eq!(summary["charge_balancing"].is_null(), ranking.is_partial());
    }
}

/// By hand: sets with charge balancing cost 10 to 22 tokens, those without (10 + 3 n)/0.18. All of these are
/// more than three times as dear as the recommended one, so the picture names them in words.
#[test]
fn what_is_far_dearer_is_told_in_words() {
    let (_, report) = reported(&STATES[0]);
    let page = file(&report, "report.html");
    assert!(page.contains("5 sets lie above: 55.56 to 122.22"), "{page}");
}

/// Whether a row of `grades.csv` has `true` in the column `recommended`.
fn is_marked(csv: &str, row: &str) -> bool {
    let column = csv.lines().next().unwrap().split(',').position(|name| name == "recommended");
    row.split(',').nth(column.unwrap()) == Some("true")
}

/// Where no set makes a good converter, no set is named, nor compared with.
#[test]
fn without_a_good_converter_no_set_is_named() {
    for state in &STATES {
        let (_, report) = reported(state);
        let summary = report.summary.value().unwrap();
        let none = summary["answer"] == "no good converter" && summary["set_to_build"].is_null();
        for word in ["cost per good converter: ", "* the ", "Reference"] {
            let said = report.screen.text(true).contains(word);
            assert!(!(said && none), "{}", report.screen.text(true));
        }
    }
}

/// An answer on charge balancing is worded by its reason, once.
#[test]
fn charge_balancing_is_worded_by_its_reason() {
    let chain = |set: &GradeSet| if is_chain(set) { 5000 } else { 4960 };
    let plain = |set: &GradeSet| if is_chain(set) { 4960 } else { 5000 };
    let equal = |_: &GradeSet| 5000;
    let scenario = scenario(2);
    let check = |good: &dyn Fn(&GradeSet) -> usize, verdict, words: &str| {
        let ranking = StandIn { samples: 5000, good, evaluations: 9 }.ranking(&scenario);
        assert_eq!(ranking.balancing.unwrap().verdict, verdict);
        let said = report(&scenario, scenario.grades.as_ref().unwrap(), &ranking, None).unwrap();
        assert!(said.screen.text(true).contains(words), "{}", said.screen.text(true));
    };
    check(&chain, BalancingVerdict::Recommended, "lowers the cost per good converter (");
    check(&plain, BalancingVerdict::NotRecommended, "raises the cost per good converter (");
    check(&equal, BalancingVerdict::NotDecided, "Whether charge balancing lowers the cost");
}

/// Names too long to stand beside the numbers have a line of their own; short ones have none.
#[test]
fn long_names_of_sets_keep_to_one_line() {
    let long = "a grade whose name takes most of a line of the terminal";
    for (name, lines) in [("g", 1), (long, 2)] {
        let scenario = scenario_with(name, 2);
        let good = |_: &GradeSet| 5000;
        let ranking = StandIn { samples: 5000, good: &good, evaluations: 9 }.ranking(&scenario);
        let said = report(&scenario, scenario.grades.as_ref().unwrap(), &ranking, None).unwrap();
        let text = said.screen.text(true);
        let table = text.split("short list, fresh samples").nth(1).unwrap();
        let table = table.split("\n\n").next().unwrap();
        assert_eq!(table.lines().count(), 1 + lines, "{}", said.screen.text(true));
        assert!(
            said.screen.text(true).lines().all(|line| line.chars().count() <= 80),
            "{}",
            said.screen.text(true)
        );
    }
}
