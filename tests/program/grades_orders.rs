//! What `grades` says to a buyer: orders with price breaks, the number to build, matched and measured grades,
//! prices that look wrong; and the lists of a stock, which `units` reads.
#![allow(missing_docs, clippy::expect_used, clippy::panic, clippy::unwrap_used, reason = "a test")]

use std::fs;
use std::path::Path;

use serde_json::Value;

use crate::support::{SHELF, changed, entries, fairphase, folder_with, json, succeed};

/// One part in two grades with price breaks, and flying capacitors with a least order; invented.
const GRADES: &str = r#"
[grades]
quantity = 200
failure_cost = 7
other_cost = 40

[[grade.resonant_inductance]]
name = "wide"
shape = "uniform"
band = "5 %"
price = 2
price_breaks = [{ quantity = 500, price = 1.9 }, { quantity = 700, price = 1.6 }]

[[grade.resonant_inductance]]
name = "narrow"
shape = "uniform"
band = "2 %"
price = 5

[[grade.flying_capacitance]]
name = "film"
shape = "uniform"
band = "5 %"
price = 3
minimum_quantity = 1000
"#;

const TANKS: &str = "serial,resonant_inductance_H,resonant_capacitance_F,\
    magnetising_inductance_H,turns_ratio,series_resistance_ohm,rectifier_drop_V\n";

fn scenario(limit: &str) -> String {
    let shelf = changed(SHELF, "sharing_error = \"5 %\"", &format!("sharing_error = \"{limit}\""));
    format!("{shelf}{GRADES}")
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("{value} is no number"))
}

fn near(found: &Value, expected: f64) {
    let found = number(found);
    assert!((found - expected).abs() < 1e-9 * expected.abs().max(1.0), "{found} is not {expected}");
}

fn grades(folder: &Path, options: &str) -> (String, Value) {
    let text = succeed(folder, &format!("grades shelf.toml --out out {options} --tables"));
    (text, json(&folder.join("out/summary.json")))
}

/// The orders by hand: 700 chokes at 1.60 cost less than the 603 to 699 needed, and 1000 capacitors are the
/// least order.
#[test]
fn the_order_is_the_cheapest_that_holds_the_series() {
    let text = changed(&scenario("2.0 %"), "yield_target  = \"99 %\"", "yield_target  = \"97 %\"");
    let folder = folder_with(&[("shelf.toml", &text)]);
    let (text, summary) = grades(folder.path(), "--samples 2000");
    assert_eq!(summary["set_to_build"]["grades"]["resonant_inductance"], "wide", "{text}");
    let order = &summary["order"];
    let built = number(&order["built"]);
    let good = &summary["set_to_build"]["yield"];
    assert!(built > 200.0 && built < 233.0, "{built}");
    assert!(number(&order["built_on_average"]) <= built);
    near(&order["built_on_average"], (200.0 / number(&good["estimate"])).ceil());
    let [chokes, capacitors] = [0, 1].map(|n| &order["parts"][n]);
    near(&chokes["needed"], 3.0 * built);
    near(&chokes["ordered"], 700.0);
    near(&chokes["price"], 1.6);
    near(&chokes["surplus"], 700.0 - 3.0 * built);
    near(&capacitors["ordered"], 1000.0);
    near(&capacitors["spend"], 3000.0);
    let failures = built * (1.0 - number(&good["estimate"])) * 7.0;
    let total = 700.0 * 1.6 + 3000.0 + 40.0 * built + failures;
    near(&order["total"], total);
    near(&order["cost_per_good_converter"], total / 200.0);
    assert!(text.contains(&format!("Build {built} converters to have 200 good ones")), "{text}");
    // The key figure stays that of the expected number.
    let expected = 200.0 / number(&good["estimate"]);
    let chokes = (2.0 * 3.0 * expected).min(1.9 * (3.0 * expected).max(500.0));
    let chokes = chokes.min(1.6 * (3.0 * expected).max(700.0));
    let failures = expected * (1.0 - number(&good["estimate"])) * 7.0;
    let cost = (chokes + 3000.0 + 40.0 * expected + failures) / 200.0;
    near(&summary["set_to_build"]["cost_per_good_converter"]["estimate"], cost);
    let page = fs::read_to_string(folder.path().join("out/report.html")).unwrap();
    assert!(page.contains("1.90 from 500, 1.60 from 700"), "price breaks on the page");
}

/// A magnetising inductance that most of a lot has in common decides the peak current of a switch: lots are
/// good or bad as a whole. The number to build is that of the series drawn from lots, 0.95 × 201 is 190.95. So
/// many series as hold 200 good ones among 250 are as many as `run` finds among delivered batches of 250,
/// other converters. Without `[lots]` the number is far too small, and that bad lots are left out is told.
#[test]
fn bad_lots_count_in_the_number_to_build() {
    let lots = |converters: u64| format!("\n[lots]\nconverters = {converters}\n");
    let limits = "[tolerance.magnetising_inductance]\nshape = \"uniform\"\nband = \"10 %\"\n\
        lot_share = 0.9\n\n[limits]\nswitch_peak_current = \"16.5 A\"\n";
    let shelf = changed(&scenario("5 %"), "[limits]\n", limits);
    let shelf = changed(&shelf, "yield_target  = \"99 %\"", "yield_target  = \"80 %\"");
    let folder = folder_with(&[
        ("shelf.toml", &(shelf.clone() + &lots(3000))),
        ("without.toml", &shelf),
        ("batches.toml", &changed(&(shelf.clone() + &lots(250)), "lot_share = 0.5\n", "")),
    ]);
    let folder = folder.path();
    let (text, summary) = grades(folder, "--samples 2000");
    let order = &summary["order"];
    let drawn = &order["series_from_lots"];
    let lengths: Vec<f64> = drawn["lengths"].as_array().unwrap().iter().map(number).collect();
    near(&drawn["given_up"], 200.0 - lengths.len() as f64);
    near(&order["built"], lengths[190]);
    let share_of = |built: f64| lengths.iter().filter(|own| **own <= built).count() as f64 / 200.0;
    near(&order["average_is_enough"], share_of(number(&order["built_on_average"])));
    assert_eq!(summary["set_to_build"]["grades"]["resonant_inductance"], "wide", "{text}");
    assert!(text.replace("\n  ", " ").contains("bad lots included"), "{text}");

    // Narrow chokes cost more for a good converter, and far less for the series: hardly a lot is bad with them.
    let next = &order["next_set"];
    assert!(next["name"].as_str().unwrap().starts_with("Lr narrow"), "{order}");
    assert!(number(&next["total"]) < number(&order["total"]), "{order}");
    let told = format!("Build {},", number(&next["built"]));
    let said = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        said.contains("For this series the next set costs less") && said.contains(&told),
        "{said}"
    );

    let told = succeed(folder, "grades without.toml --out without --samples 2000 --tables");
    let without = &json(&folder.join("without/summary.json"))["order"];
    assert!(number(&without["built"]) < 0.8 * number(&order["built"]), "{without} {order}");
    assert_eq!(without["leaves_out_bad_lots"], true);
    let told = told.replace("\n  ", " ");
    assert!(told.contains("without a bad lot. With [lots] in the scenario"), "{told}");

    succeed(folder, "run batches.toml --out run --samples 1000 --no-explain --quiet");
    let run = json(&folder.join("run/summary.json"));
    let batches = run["batches"]["arrangements"].as_array().unwrap();
    let passing = batches[0]["passing"].as_array().unwrap();
    let enough = passing.iter().filter(|good| number(good) >= 200.0).count() as f64 / 200.0;
    let deviation = (2.0 * enough * (1.0 - enough) / 200.0).sqrt();
    assert!((share_of(250.0) - enough).abs() < 4.0 * deviation, "{} {enough}", share_of(250.0));
    assert!(enough < 0.95, "the check can fail: {enough}");
}

/// Matched wide chokes share like narrow ones: on the same samples, at a price of their own.
#[test]
fn a_matched_grade_stands_beside_the_others() {
    let matched = "name = \"matched\"\nmatching = { pieces = 90, cost = 0.5, uncertainty = \"0.1 %\" }\n\
        shape = \"uniform\"\nband = \"5 %\"\nprice = 2\n\n[[grade.resonant_inductance]]\nname = \"narrow\"";
    let text = changed(&scenario("0.1 %"), "name = \"narrow\"", matched);
    let folder = folder_with(&[("shelf.toml", &text)]);
    let (_, summary) = grades(folder.path(), "--samples 1000");
    let share = |name: &str| {
        let sets = summary["results"].as_array().unwrap().iter();
        let set = sets.clone().find(|set| set["grades"]["resonant_inductance"] == name).unwrap();
        number(&set["yield"]["estimate"])
    };
    assert!(share("matched") > share("narrow") && share("narrow") > share("wide"), "{summary}");
    let offer = &summary["offers"][0]["grades"][1];
    assert_eq!(
        (offer["name"].as_str(), &offer["matching"]["pieces"]),
        (Some("matched"), &90.into())
    );
    near(&offer["matching"]["standard_uncertainty"], 0.0005);
    // Where it is not matched, nothing changes.
    let plain = folder_with(&[("shelf.toml", &scenario("0.1 %"))]);
    let (_, plain) = grades(plain.path(), "--samples 1000");
    assert_eq!(plain["results"][0]["yield"], summary["results"][0]["yield"]);
}

/// A lot that was measured is a grade like others: its values are drawn as they are.
#[test]
fn a_measured_lot_is_a_grade() {
    let lot = "name = \"narrow\"\nshape = \"measured\"\nfile = \"lot.csv\"\n\
               column = \"resonant_inductance_H\"\nprice = 5\n";
    let text = changed(
        &scenario("0.5 %"),
        "name = \"narrow\"\nshape = \"uniform\"\nband = \"2 %\"\nprice = 5\n",
        lot,
    );
    let text = changed(&text, "yield_target  = \"99 %\"", "yield_target  = \"90 %\"");
    let values: Vec<String> =
        (0..12).map(|k| format!("{:e}", 4.5e-6 + 1e-8 * f64::from(k))).collect();
    let values = format!("resonant_inductance_H\n{}\n", values.join("\n"));
    let folder = folder_with(&[("shelf.toml", &text), ("lot.csv", &values)]);
    let (text, summary) = grades(folder.path(), "--samples 600");
    let offer = &summary["offers"][0]["grades"][1];
    assert_eq!(
        (offer["shape"].as_str(), &offer["measured"]["parts"]),
        (Some("measured"), &12.into())
    );
    assert!(text.contains("measured"), "what the answer holds for is said: {text}");
    let told = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(told.contains("the file lists 12 parts, the series needs "), "{told}");
}

/// A price at ten times its neighbour is pointed out before the work, in the answer and on the page.
#[test]
fn a_price_that_looks_wrong_is_pointed_out() {
    let slipped = changed(&scenario("0.5 %"), "price = 5", "price = 50");
    let folder = folder_with(&[("shelf.toml", &slipped)]);
    let said = fairphase(folder.path(), "grades shelf.toml --samples 600 --out out --tables");
    assert_eq!(said.status, 0, "{}", said.stderr);
    let words = "Check the prices of Lr";
    assert!(said.stderr.contains(words) && said.stdout.contains(words), "{}", said.stderr);
    let summary = json(&folder.path().join("out/summary.json"));
    let gap = &summary["conspicuous_prices"][0];
    near(&gap["factor"], 25.0);
    assert_eq!(
        (&gap["cheaper"]["grade"], &gap["dearer"]["grade"]),
        (&"wide".into(), &"narrow".into())
    );
    let page = fs::read_to_string(folder.path().join("out/report.html")).unwrap();
    assert!(page.contains("A price that looks wrong."));
    let slipped = changed(&scenario("0.5 %"), "price = 1.6", "price = 0.16");
    let folder = folder_with(&[("shelf.toml", &slipped)]);
    let said = fairphase(folder.path(), "grades shelf.toml --samples 600 --out out --tables");
    assert!(said.stderr.contains("“wide” from 700 on costs 0.16"), "{}", said.stderr);
}

#[test]
fn wrong_price_breaks_and_matching_are_refused() {
    for (from, to, words) in [
        (
            "quantity = 700, price = 1.6",
            "quantity = 400, price = 1.6",
            "expected quantities that rise",
        ),
        (
            "quantity = 700, price = 1.6",
            "quantity = 700, price = 1.95",
            "expected prices that fall",
        ),
        ("quantity = 700, price = 1.6", "quantity = 700", "lacks `price`"),
        ("price = 5", "price = 5\nmatching = { pieces = 5 }", "expected 6 at least"),
        ("price = 5", "price = 5\nmatching = { pieces = 60, kost = 1 }", "did you mean `cost`?"),
    ] {
        let folder = folder_with(&[("wrong.toml", &changed(&scenario("5 %"), from, to))]);
        let said = fairphase(folder.path(), "grades wrong.toml --out out");
        assert_eq!((said.status, said.stdout.as_str()), (2, ""), "{}", said.stderr);
        assert!(said.stderr.contains(words), "{words}:\n{}", said.stderr);
    }
    let correlated = "[[correlation]]\nbetween = [\"resonant_inductance\", \"turns_ratio\"]\n\
        coefficient = 0.5\n[tolerance.turns_ratio]\nshape = \"uniform\"\nband = \"1 %\"\n";
    let text = changed(&scenario("5 %"), "price = 5", "price = 5\nmatching = { pieces = 60 }");
    let folder = folder_with(&[("wrong.toml", &format!("{text}{correlated}"))]);
    let said = fairphase(folder.path(), "grades wrong.toml --out out");
    assert!(said.stderr.contains("is matched, so it correlates with nothing"), "{}", said.stderr);
}

/// Eleven chokes within a few percent, one far off: three converters, of which one cannot pass.
fn tanks() -> String {
    let values = [4.50, 4.51, 4.52, 4.60, 4.61, 4.62, 4.56, 4.57, 5.60];
    let rows = values.iter().enumerate().map(|(k, value)| format!("T{k},{value:.3}e-6,,,,,\n"));
    TANKS.to_owned() + &rows.collect::<String>()
}

/// The units of a parts file that meet all limits in the chain, as `units` finds them.
fn units_that_pass(folder: &Path, file: &str) -> Vec<bool> {
    let said = fairphase(folder, &format!("units shelf.toml --parts {file} --out units --tables"));
    assert_eq!(said.status, 0, "{}", said.stderr);
    let summary = json(&folder.join("units/summary.json"));
    let units = summary["units"].as_array().unwrap().iter();
    let in_chain = units.filter(|unit| unit["arrangement"] == "chain");
    in_chain.map(|unit| unit["meets_limits"].as_bool().unwrap()).collect()
}

/// The list to build holds what passes, and `units` agrees; the other one says which part to exchange, and
/// with that part the converter passes.
#[test]
fn the_lists_of_a_stock_are_parts_files_of_units() {
    let stock = changed(SHELF, "sharing_error = \"5 %\"", "sharing_error = \"0.4 %\"");
    let folder = folder_with(&[("shelf.toml", &stock), ("tanks.csv", &tanks())]);
    let text = succeed(folder.path(), "grades shelf.toml --out out --stock tanks.csv --tables");
    let out = folder.path().join("out");
    let files = ["build_list.csv", "not_passing.csv", "report.html", "summary.json"];
    assert_eq!(entries(&out), files, "no grades were compared");
    let summary = json(&out.join("summary.json"));
    let result = &summary["allocation"]["result"];
    assert_eq!((&summary["stock_alone"], &result["converters"]), (&true.into(), &3.into()));
    assert_eq!(result["build_list"].as_array().unwrap().len(), 2, "{text}");
    assert_eq!(result["bottleneck"], "limits");
    assert!(text.contains("Bottleneck: the limit on"), "{text}");
    assert_eq!(units_that_pass(folder.path(), "out/build_list.csv"), [true, true]);
    assert_eq!(units_that_pass(folder.path(), "out/not_passing.csv"), [false]);
    let exchange = &result["not_passing"][0]["exchange"];
    assert_eq!(
        (&exchange["serial"], &exchange["parameter"]),
        (&"T8".into(), &"resonant_inductance".into())
    );
    let list = fs::read_to_string(out.join("not_passing.csv")).unwrap();
    let mended = changed(&list, "0.0000056,", &format!("{},", number(&exchange["value"])));
    fs::write(folder.path().join("mended.csv"), mended).unwrap();
    assert_eq!(units_that_pass(folder.path(), "mended.csv"), [true]);
    let page = fs::read_to_string(out.join("report.html")).unwrap();
    assert!(page.contains("Not to be built: these fail") && page.contains("Lr of T8"));
}

/// A tank with both resonant parts off: neither part alone is mended by a nominal one, but by one with which the tank
/// resonates as the others do.
#[test]
fn an_exchange_may_tune_a_tank() {
    let stock = changed(SHELF, "sharing_error = \"5 %\"", "sharing_error = \"0.4 %\"");
    let tanks =
        format!("{TANKS}T0,4.56e-6,247e-9,,,,\nT1,4.56e-6,247e-9,,,,\nT2,4.8e-6,255e-9,,,,\n");
    let folder = folder_with(&[("shelf.toml", &stock), ("tanks.csv", &tanks)]);
    succeed(folder.path(), "grades shelf.toml --out out --stock tanks.csv --quiet");
    let summary = json(&folder.path().join("out/summary.json"));
    let exchange = &summary["allocation"]["result"]["not_passing"][0]["exchange"];
    assert_eq!(exchange["serial"], "T2");
    let value = number(&exchange["value"]);
    let product = match exchange["parameter"].as_str().unwrap() {
        "resonant_inductance" => value * 255e-9,
        "resonant_capacitance" => 4.8e-6 * value,
        other => panic!("{other}"),
    };
    assert!((product / (4.56e-6 * 247e-9) - 1.0).abs() < 1e-9, "{product}");
    let list = fs::read_to_string(folder.path().join("out/not_passing.csv")).unwrap();
    for [inductance, capacitance] in [["0.00000456", "0.000000255"], ["0.0000048", "0.000000247"]] {
        let nominal =
            list.replace("0.0000048,0.000000255,", &format!("{inductance},{capacitance},"));
        assert_ne!(nominal, list);
        fs::write(folder.path().join("nominal.csv"), nominal).unwrap();
        assert_eq!(units_that_pass(folder.path(), "nominal.csv"), [false], "{inductance}");
    }
}

/// A limit on a switch that half-bridge drive alone holds on fails no converter where full bridges are driven.
#[test]
fn a_limit_of_one_drive_fails_no_stock_at_another() {
    let half = "[[operating_point]]\nname = \"half\"\ninput_voltage = \"380 V\"\n\
        output_voltage = \"48 V\"\noutput_power = \"1 kW\"\ndrive = \"half-bridge\"\n\
        rectifier = \"voltage-doubler\"\n\n[tolerance.resonant_inductance]";
    let text = changed(SHELF, "[tolerance.resonant_inductance]", half);
    let part = "[[limits.part]]\npart = \"held_low_switch\"\nrms_current = \"400 A\"\n\n[run]";
    let text = changed(&text, "[run]", part);
    let folder = folder_with(&[("shelf.toml", &text), ("tanks.csv", &tanks())]);
    succeed(folder.path(), "grades shelf.toml --stock tanks.csv --allot-only --out out");
    let found = json(&folder.path().join("out/summary.json"));
    let listed = units_that_pass(folder.path(), "out/build_list.csv");
    let passing = found["allocation"]["result"]["passing_allotted"].as_u64().unwrap();
    assert_eq!(listed.len() as u64, 2 * passing, "at both points");
    assert!(listed.iter().all(|passes| *passes), "{listed:?}");
    assert!(passing > 1, "{passing}");
}

/// With grades in the scenario, an option leaves them out; the list is the same.
#[test]
fn the_stock_is_allotted_alone_on_request() {
    let folder = folder_with(&[("shelf.toml", &scenario("0.4 %")), ("tanks.csv", &tanks())]);
    let alone = "grades shelf.toml --stock tanks.csv --allot-only";
    let text = succeed(folder.path(), &format!("{alone} --out alone"));
    assert!(
        !text.contains("Recommended") && text.contains("Stock: 9 tanks make 3 converters."),
        "{text}"
    );
    succeed(folder.path(), "grades shelf.toml --stock tanks.csv --samples 300 --quiet --out both");
    let read =
        |folder_of: &str| fs::read(folder.path().join(folder_of).join("build_list.csv")).unwrap();
    assert_eq!(read("alone"), read("both"));
    let page = fs::read_to_string(folder.path().join("alone/report.html")).unwrap();
    assert!(page.contains("--stock tanks.csv --allot-only"), "the page tells how it was made");
    let brief = page.split_once("id=\"brief\"").unwrap().1.split_once("</section>").unwrap().0;
    let result = json(&folder.path().join("alone/summary.json"));
    let allotted = result["allocation"]["result"]["passing_allotted"].as_u64().unwrap();
    let answer = format!("{allotted} of 3\u{a0}converters keep every limit when built as listed");
    for words in
        [answer.as_str(), "role=\"img\"", "Judged at", "Nominal phase: ", "How sure", "Lr of T8"]
    {
        assert!(brief.contains(words), "{words}: {brief}");
    }
    let required =
        fairphase(folder.path(), &format!("{alone} --require-pass --quiet --out required"));
    assert_eq!(required.status, 1, "one converter fails");
    let said = fairphase(folder.path(), "grades shelf.toml --allot-only --tables");
    assert_eq!(said.status, 2, "{}", said.stdout);
    assert!(said.stderr.contains("--stock"), "{}", said.stderr);
}
