use std::sync::atomic::AtomicBool;

use super::*;
use crate::solver::Method;
use crate::statistics::Verdict;
use crate::study::common::figures::Figure;
use crate::study::common::progress::Silent;
use crate::study::common::session::Session;
use crate::study::common::settings::Settings;
use crate::study::explanation::{Explained, explain, samples_to_keep};
use crate::study::run::{NoSink, SampleSize, run};

/// Invented converters.
const SHELF: &str = include_str!("../../../../scenarios/telecom-shelf.toml");
const PUMP: &str = include_str!("../../../../scenarios/pump-drive.toml");

fn study(text: &str, samples: u64, method: Method) -> (Scenario, Run) {
    let scenario = Scenario::parse("my scenario.toml", text).unwrap();
    let settings = Settings { samples, seed: 5, method, threads: 0 };
    let stop = AtomicBool::new(false);
    let session = Session::new(&scenario, settings, &stop).unwrap();
    let run =
        run(&session, 5.into(), SampleSize::Fixed(samples), &mut NoSink, &mut Silent).unwrap();
    drop(session);
    (scenario, run)
}

fn made(text: &str, samples: u64) -> String {
    let (scenario, run) = study(text, samples, Method::Exact);
    page(&scenario, &run, None)
}

/// The page of a run that is explained.
fn explained(text: &str, samples: u64) -> String {
    let scenario = Scenario::parse("my scenario.toml", text).unwrap();
    let settings = Settings { samples, seed: 5, method: Method::Averaged, threads: 0 };
    let stop = AtomicBool::new(false);
    let session = Session::new(&scenario, settings, &stop).unwrap();
    let mut kept = samples_to_keep(&scenario);
    let size = SampleSize::Fixed(samples);
    let run = run(&session, 5.into(), size, &mut kept, &mut Silent).unwrap();
    let explained = Explained { session: &session, run: &run, kept: &kept };
    let explanation = explain(explained, &mut Silent).unwrap();
    page(&scenario, &run, Some(&explanation))
}

#[test]
fn an_explained_run_shows_what_drives_it_and_what_changes_it() {
    let page = explained(PUMP, 2500);
    for (id, heading) in EXPLAINED {
        assert!(page.contains(&format!("<section id=\"{id}\"")), "{id}");
        assert!(page.contains(&format!("href=\"#{id}\">{heading}")), "{id}");
    }
    for words in [
        "Failing converters saved by one exact parameter, chain",
        "Share of the variance of the sharing error at haze",
        "linear model",
        "Lr and Lm correlate by −0.9",
        "all lot shares are 0",
    ] {
        assert!(page.contains(words), "{words}");
    }
    assert!(!page.contains("Nothing to show"));
    let few = explained(PUMP, 20);
    assert_eq!(few.matches("Nothing to show").count(), 3, "too few samples");
    assert!(!made(PUMP, 20).contains("What drives it"));
}

#[test]
fn every_section_is_there_and_every_link_leads_to_one() {
    let page = made(SHELF, 60);
    for (id, heading) in BEFORE.into_iter().chain(AFTER) {
        assert!(page.contains(&format!("<section id=\"{id}\"")), "{id}");
        assert!(page.contains(&format!("{heading}</h2>")), "{heading}");
    }
    for n in 1..=4 {
        assert!(page.contains(&format!("<section id=\"point-{n}\"")), "{n}");
    }
    let targets: Vec<&str> =
        page.split("href=\"").skip(1).map(|s| s.split('"').next().unwrap()).collect();
    assert!(targets.len() > 14);
    for target in targets {
        let id = target.strip_prefix('#').expect("links stay inside the page");
        assert!(page.contains(&format!(" id=\"{id}\"")), "{id}");
    }
}

#[test]
fn the_answer_stands_first_and_the_command_makes_it_again() {
    let (scenario, run) = study(SHELF, 60, Method::Exact);
    let page = page(&scenario, &run, None);
    let at = |text: &str| page.find(text).unwrap_or_else(|| panic!("{text} is missing"));
    assert!(at("With charge balancing") < at("<table"), "the verdict comes before any table");
    for joint in &run.joint {
        at(&format!("</svg>{}</p>", names::capital(names::verdict(joint.verdict))));
        at(&numbers::yield_percent(joint.good.lower));
    }
    at("fairphase run 'my scenario.toml' --samples 60 --seed 5 --solver exact");
    at("fairphase units 'my scenario.toml' --parts worst_converters.csv --solver exact");
    at(concat!("fairphase ", env!("CARGO_PKG_VERSION")));
    at("count as failures");
    assert!(!page.contains("quick look only") && !page.contains("A quick look only"));
}

#[test]
fn what_is_not_decided_says_how_many_samples_would() {
    // Even 60 good samples would leave the yield's lower end at 94 %: no decision on 99 %.
    let (scenario, run) = study(SHELF, 60, Method::Exact);
    assert_eq!(run.joint[0].verdict, Verdict::NotDecided);
    let forecast = run.joint[0].forecast.unwrap();
    let until = forecast.until_decided.unwrap().samples;
    assert!(until.is_multiple_of(2048), "{until}: whole batches");
    let [until, new_run] = [until, forecast.new_run.unwrap()].map(numbers::samples);
    let page = page(&scenario, &run, None);
    for text in
        ["Not decided", &format!("within {until} in 9 of 10"), &format!("A new run of {new_run}")]
    {
        assert!(page.contains(text), "{text}");
    }
}

#[test]
fn the_averaged_solver_is_called_a_quick_look() {
    let (scenario, run) = study(PUMP, 40, Method::Averaged);
    assert!(page(&scenario, &run, None).contains("A quick look only."));
}

#[test]
fn hostile_texts_are_escaped() {
    let text = PUMP
        .replace("Solar pump supply", "<script>alert(1)</script>")
        .replace("\"noon\"", "\"</title><img onerror=x> & more\"");
    let page = made(&text, 20);
    assert!(
        page.contains("&lt;script&gt;alert(1)")
            && page.contains("&lt;img onerror=x&gt; &amp; more")
    );
    assert!(page.matches("<script").count() == 1 && !page.contains("<img"));
}

#[test]
fn nothing_is_fetched_and_nothing_runs() {
    let page = made(PUMP, 20);
    for outside in ["http:", "https:", "src=", "url(", "@import", "<link", "javascript:", "onload"]
    {
        assert!(!page.contains(outside), "{outside}");
    }
}

#[test]
fn the_same_run_gives_the_same_bytes() {
    let (scenario, mut run) = study(SHELF, 60, Method::Exact);
    let first = page(&scenario, &run, None);
    assert_eq!(first, page(&scenario, &run, None));
    assert_eq!(first, made(SHELF, 60));
    run.settings.threads = 7;
    assert_eq!(first, page(&scenario, &run, None), "the number of threads shows");
}

/// What a tag closes that has no end of its own: cells and rows (HTML, section 13.1.2.4).
fn close_implied(open: &mut Vec<&str>, tag: &str) {
    let ends_row = ["tr", "/tbody", "/thead"].contains(&tag);
    if ends_row || ["td", "th", "/tr"].contains(&tag) {
        open.pop_if(|last| ["td", "th"].contains(last));
    }
    if ends_row {
        open.pop_if(|last| *last == "tr");
    }
}

#[test]
fn every_tag_is_closed_in_order_and_identifiers_are_unique() {
    for text in [SHELF, PUMP] {
        let page = made(text, 20);
        let body = page.split_once("</style>").unwrap().1;
        let body = body.split_once("<script>").unwrap().0;
        let mut open = vec!["html", "head"];
        for tag in body.split('<').skip(1) {
            let name = tag.split(['>', ' ']).next().unwrap();
            if tag.split('>').next().unwrap().ends_with('/') {
                continue;
            }
            close_implied(&mut open, name);
            match name.strip_prefix('/') {
                Some(closed) => assert_eq!(open.pop(), Some(closed)),
                None if ["br", "meta"].contains(&name) => {}
                None => open.push(name),
            }
        }
        assert_eq!(open, ["html", "body"]);
        let mut ids: Vec<&str> =
            page.split(" id=\"").skip(1).map(|s| s.split('"').next().unwrap()).collect();
        let all = ids.len();
        ids.sort_unstable();
        ids.dedup();
        assert_eq!(ids.len(), all);
    }
}

#[test]
fn figures_that_do_not_exist_are_dashes_not_numbers() {
    let (scenario, mut run) = study(PUMP, 20, Method::Exact);
    for case in &mut run.cases {
        case.key_figures.iter_mut().for_each(|s| *s = None);
        (case.histogram, case.worst) = (None, None);
        case.curve.clear();
        case.counts = [0, 15, 5];
    }
    let page = page(&scenario, &run, None);
    assert!(page.contains("no sample was solved"));
    let told = page.split_once("<script>").unwrap().0;
    assert!(!told.contains("NaN") && !told.contains("inf<"));
}

/// One number followed from the run into the page.
#[test]
fn the_page_shows_the_numbers_of_the_run() {
    let (scenario, run) = study(SHELF, 300, Method::Exact);
    let page = page(&scenario, &run, None);
    for n in 0..run.cases.len() {
        let s = run.key_figures(n, Figure::SharingError(scenario.limits.sharing)).unwrap();
        let max =
            format!("{}<br><small>sample {}</small>", numbers::in_percent(s.max), s.max_sample);
        assert!(page.contains(&max), "{max}");
        let p50 = numbers::quantile_ends(s.p50_interval, numbers::in_percent);
        assert!(page.contains(&p50), "{p50}");
        let stress = run.key_figures(n, Figure::StressAtEqualCurrent).unwrap();
        assert!(page.contains(&format!(">{}<", numbers::quantile(stress.p95, numbers::kilo))));
    }
}
