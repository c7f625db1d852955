//! The output folder: no input is lost, nothing foreign is touched, and a set of results is whole.
#![allow(missing_docs, clippy::panic, clippy::unwrap_used, reason = "a test")]

use std::fs::{self, File};
use std::os::unix::fs::symlink;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::thread::sleep;
use std::time::Instant;

use serde_json::json;

use crate::support::{
    SHELF, Said, changed, command, entries, fairphase, folder_with, is_in_the_making,
    is_past_opening, json, processor_time, said, signal, succeed, wait_until,
};

const GRADES: &str = include_str!("../../scenarios/seabed-node.toml");
const TANKS: &str = include_str!("../../scenarios/seabed-node-tanks.csv");
const LAMPS: &str = include_str!("../../scenarios/greenhouse-lamps.toml");

const PARTS: &str = "unit,phase,resonant_inductance_H,resonant_capacitance_F,\
magnetising_inductance_H,turns_ratio,series_resistance_ohm,rectifier_drop_V,\
flying_capacitance_F,flying_capacitance_return_leg_F\n\
a,1,,,,,,,,\na,2,,,,,,,,\na,3,,,,,,,,\n";

/// Samples that no machine ends while a test lasts: what is refused is refused before the work.
const ENDLESS: &str = "--samples 1000000000";

/// All files below a folder with their bytes, by their paths.
fn contents(folder: &Path) -> Vec<(String, Vec<u8>)> {
    let mut found = Vec::new();
    for name in entries(folder) {
        let path = folder.join(&name);
        if path.is_dir() {
            let inside = contents(&path).into_iter();
            found.extend(inside.map(|(inner, bytes)| (format!("{name}/{inner}"), bytes)));
        } else {
            found.push((name, fs::read(&path).unwrap()));
        }
    }
    found
}

/// Refused with status 2 and these words, and not one byte is touched.
#[track_caller]
fn refuses(folder: &Path, arguments: &str, words: &[&str]) {
    let before = contents(folder);
    let Said { status, stdout, stderr } = fairphase(folder, arguments);
    assert_eq!((status, stdout.as_str()), (2, ""), "{arguments}: {stderr}");
    for word in words {
        assert!(stderr.contains(word), "{arguments}: {word} is missing: {stderr}");
    }
    assert!(contents(folder) == before, "{arguments}: something was written");
}

#[test]
fn an_input_file_is_never_replaced() {
    let stock = format!("grades node.toml {ENDLESS} --out y --stock");
    for (name, text, arguments) in [
        ("y/build_list.csv", TANKS, format!("{stock} y/build_list.csv")),
        ("y/build_list.csv", TANKS, format!("{stock} y/../y/./build_list.csv")),
        ("y/grades.csv", TANKS, format!("{stock} y/grades.csv")),
        ("y/units.csv", PARTS, "units shelf.toml --parts y/units.csv --out y".to_owned()),
        ("y/report.html", SHELF, "gain y/report.html --out y".to_owned()),
        ("y/summary.json", SHELF, format!("run y/summary.json {ENDLESS} --out y")),
        ("y/summary.json", LAMPS, format!("sensors y/summary.json {ENDLESS} --out ./y")),
    ] {
        let folder = folder_with(&[("node.toml", GRADES), ("shelf.toml", SHELF)]);
        fs::create_dir(folder.path().join("y")).unwrap();
        fs::write(folder.path().join(name), text).unwrap();
        refuses(folder.path(), &arguments, &["the input file", name, "--out"]);
    }
}

/// Hard links, symbolic links of files and folders: device and inode tell.
#[test]
fn an_input_file_is_known_by_any_name() {
    let files = [("node.toml", GRADES), ("shelf.toml", SHELF), ("tanks.csv", TANKS)];
    let folder = folder_with(&files);
    let path = |name: &str| folder.path().join(name);
    fs::write(path("parts.csv"), PARTS).unwrap();
    for out in ["hard", "soft", "real", "page"] {
        fs::create_dir(path(out)).unwrap();
    }
    fs::hard_link(path("tanks.csv"), path("hard/build_list.csv")).unwrap();
    symlink("../parts.csv", path("soft/units.csv")).unwrap();
    fs::write(path("real/units.csv"), PARTS).unwrap();
    symlink("real", path("link")).unwrap();
    fs::hard_link(path("shelf.toml"), path("page/report.html")).unwrap();
    let stock = format!("grades node.toml {ENDLESS} --stock tanks.csv --out hard");
    refuses(folder.path(), &stock, &["tanks.csv is hard/build_list.csv"]);
    let soft = "units shelf.toml --parts parts.csv --out soft";
    refuses(folder.path(), soft, &["parts.csv is soft/units.csv"]);
    let linked = "units shelf.toml --parts real/units.csv --out link";
    refuses(folder.path(), linked, &["real/units.csv is link/units.csv"]);
    let page = format!("bands shelf.toml {ENDLESS} --out page");
    refuses(folder.path(), &page, &["shelf.toml is page/report.html"]);
}

/// What this program did not write, and what has the name of a result, stops it before the work.
#[test]
fn what_is_not_ours_is_not_replaced() {
    let crafted = json!({
        "schema": "fairphase-summary/2", "verb": "run",
        "files": ["notes.csv", "shelf.toml", "report.html", "summary.json"],
    });
    for (name, text) in [
        ("report.html", "of the user"),
        ("summary.json", "{}"),
        ("summary.json", &crafted.to_string()),
        ("gain.csv", "1,2\n"),
        ("gain.csv", ""),
    ] {
        let folder =
            folder_with(&[("shelf.toml", SHELF), ("notes.csv", "of the user"), (name, text)]);
        let whole = format!("./{name}");
        refuses(folder.path(), "gain shelf.toml --out .", &["error: ", &whole, "Move away"]);
    }
    let folder = folder_with(&[("shelf.toml", SHELF)]);
    fs::create_dir_all(folder.path().join("out/samples.parquet/mine")).unwrap();
    symlink("nowhere", folder.path().join("out/report.html")).unwrap();
    let before = entries(&folder.path().join("out"));
    let run = format!("run shelf.toml {ENDLESS} --out out");
    let Said { status, stderr, .. } = fairphase(folder.path(), &run);
    assert_eq!(status, 2, "{stderr}");
    for words in ["out/samples.parquet is a folder", "out/report.html is not known as a result"] {
        assert!(stderr.contains(words), "{stderr}");
    }
    assert_eq!(entries(&folder.path().join("out")), before);
}

/// A build list that somebody filled with measured values is no longer a result.
#[test]
fn a_result_that_was_changed_is_not_replaced() {
    let folder = folder_with(&[("node.toml", GRADES), ("tanks.csv", TANKS)]);
    let grades = "grades node.toml --samples 100 --solver averaged --quiet --out out";
    succeed(folder.path(), &format!("{grades} --stock tanks.csv"));
    succeed(folder.path(), &format!("{grades} --stock tanks.csv"));
    let list = folder.path().join("out/build_list.csv");
    let measured = fs::read_to_string(&list).unwrap() + "measured,2.5 %\n";
    fs::write(&list, &measured).unwrap();
    let words = ["out/build_list.csv was changed after fairphase wrote it", "--out"];
    refuses(folder.path(), &format!("{grades} --stock tanks.csv"), &words);
    // A command that does not write this file leaves it, and says so.
    let said = fairphase(folder.path(), "gain node.toml --out out");
    assert_eq!(said.status, 0, "{}", said.stderr);
    assert!(said.stderr.contains("note: out/build_list.csv was changed"), "{}", said.stderr);
    assert_eq!(fs::read_to_string(&list).unwrap(), measured);
    let names = ["build_list.csv", "gain.csv", "report.html", "summary.json"];
    assert_eq!(entries(&folder.path().join("out")), names);
    let words = ["out/build_list.csv is not known as a result"];
    refuses(folder.path(), &format!("{grades} --stock tanks.csv"), &words);
}

/// Version 0.1 listed files without checksums: nobody can tell whether they were changed since.
#[test]
fn results_without_checksums_are_refused_with_what_to_do() {
    let folder = folder_with(&[("shelf.toml", SHELF)]);
    succeed(folder.path(), "gain shelf.toml --out out --quiet");
    let path = folder.path().join("out/summary.json");
    let mut summary = json(&path);
    summary.as_object_mut().unwrap().remove("checksums");
    fs::write(&path, summary.to_string()).unwrap();
    let words =
        ["out/summary.json is not known as a result of this version of fairphase", "Move away"];
    refuses(folder.path(), "gain shelf.toml --out out", &words);
}

/// The README's command, in a clone.
#[test]
fn the_example_report_can_be_made_again() {
    let example = Path::new(env!("CARGO_MANIFEST_DIR")).join("reports/telecom-shelf");
    let folder = folder_with(&[("telecom-shelf.toml", crate::support::TELECOM)]);
    let out = folder.path().join("reports/telecom-shelf");
    fs::create_dir_all(&out).unwrap();
    for name in entries(&example).iter().filter(|name| !name.starts_with('.')) {
        fs::copy(example.join(name), out.join(name)).unwrap();
    }
    succeed(folder.path(), "run telecom-shelf.toml --samples 20 --quiet");
    assert_eq!(json(&out.join("summary.json"))["samples"], 20);
}

/// Whether a folder holds a whole set of `run`: page and summary of one seed, and the files listed.
#[track_caller]
fn seed_of_whole_set(out: &Path) -> u64 {
    let summary = json(&out.join("summary.json"));
    let files: Vec<String> = serde_json::from_value(summary["files"].clone()).unwrap();
    let mut expected = files.clone();
    expected.sort();
    assert_eq!(entries(out), expected);
    let seed = summary["seed"].as_u64().unwrap();
    let page = fs::read_to_string(out.join("report.html")).unwrap();
    assert!(page.contains(&format!("--seed {seed} ")), "the page is of another seed");
    seed
}

fn quick_run(folder: &Path, seed: u64) -> Command {
    let arguments = format!("run shelf.toml --samples 40 --solver averaged --quiet --seed {seed}");
    let mut command = command(folder, &format!("{arguments} --out out"));
    command.stderr(Stdio::piped());
    command
}

#[test]
fn two_writers_never_mix_their_files() {
    let folder = folder_with(&[("shelf.toml", SHELF)]);
    let out = folder.path().join("out");
    let mut refused = 0;
    for pair in 0..20 {
        let seeds = [2 * pair + 1, 2 * pair + 2];
        let children = seeds.map(|seed| quick_run(folder.path(), seed).spawn().unwrap());
        let ended = children.map(|child| said(child.wait_with_output().unwrap()));
        for end in ended.iter().filter(|end| end.status != 0) {
            assert_eq!(end.status, 3, "{}", end.stderr);
            let words = "another fairphase is at work in the folder out";
            assert!(end.stderr.contains(words), "{}", end.stderr);
            refused += 1;
        }
        assert!(ended.iter().any(|end| end.status == 0), "one of both does its work");
        assert!(seeds.contains(&seed_of_whole_set(&out)), "pair {pair}");
    }
    assert!(refused > 0, "they never met");
}

#[test]
fn a_folder_in_use_is_refused_at_once() {
    let folder = folder_with(&[("shelf.toml", SHELF)]);
    let out = folder.path().join("out");
    let mut first = command(folder.path(), &format!("run shelf.toml {ENDLESS} --quiet --out out"))
        .spawn()
        .unwrap();
    wait_until(&mut first, |_| is_in_the_making(&out));
    let second = fairphase(folder.path(), "gain shelf.toml --out out");
    assert_eq!((second.status, second.stdout.as_str()), (3, ""), "{}", second.stderr);
    assert!(second.stderr.contains("at work in the folder out"), "{}", second.stderr);
    assert!(first.try_wait().unwrap().is_none(), "the first goes on");
    first.kill().unwrap();
    first.wait().unwrap();
    assert!(is_in_the_making(&out), "what it left");
    // What the killed one left goes with the next.
    succeed(folder.path(), "gain shelf.toml --out out --quiet");
    assert_eq!(entries(&out), ["gain.csv", "report.html", "summary.json"]);
}

/// Killed at moments all over its work, placing among them, one whole set remains: the former one or
/// the new one. A command that opens the folder and then stops brings it in order.
#[test]
fn killed_at_any_moment_one_whole_set_remains() {
    let folder = folder_with(&[("shelf.toml", SHELF), ("wrong.csv", "unit\n")]);
    let out = folder.path().join("out");
    let started = Instant::now();
    assert!(quick_run(folder.path(), 1).output().unwrap().status.success());
    let whole = started.elapsed();
    let mut former = 1;
    for kill in 0..30 {
        let mut child: Child = quick_run(folder.path(), kill + 2).spawn().unwrap();
        sleep(whole.mul_f64(0.3 + 0.03 * kill as f64));
        child.kill().unwrap();
        child.wait().unwrap();
        let opened = fairphase(folder.path(), "units shelf.toml --parts wrong.csv --out out");
        assert_eq!(opened.status, 2, "{}", opened.stderr);
        let seed = seed_of_whole_set(&out);
        assert!([former, kill + 2].contains(&seed), "kill {kill}: {seed}");
        former = seed;
    }
}

/// Starts `sensors`, which never ends, and asks it to stop once it has done some work.
#[track_caller]
fn stopped_sensors(folder: &Path, meanwhile: impl FnOnce()) -> Said {
    let arguments = format!("sensors lamps.toml {ENDLESS} --solver averaged --out out");
    let mut command = command(folder, &arguments);
    let mut child = command.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    // What comes into the way while the folder is opened is refused, which is another test.
    wait_until(&mut child, is_past_opening);
    meanwhile();
    wait_until(&mut child, |child| processor_time(child) > 3.0);
    signal(&child, "INT");
    let said = said(child.wait_with_output().unwrap());
    assert_eq!(said.status, 3, "{}", said.stderr);
    assert!(said.stdout.contains("PARTIAL: interrupted."), "{}", said.stdout);
    said
}

#[test]
fn partial_results_stand_beside_complete_ones() {
    let folder = folder_with(&[("lamps.toml", LAMPS)]);
    let out = folder.path().join("out");
    succeed(folder.path(), "gain lamps.toml --out out --quiet");
    let complete = contents(&out);
    let said = stopped_sensors(folder.path(), || {});
    assert!(said.stdout.contains("\nReport: out/partial/report.html\n"), "{}", said.stdout);
    assert!(said.stderr.contains("the complete results in out stay"), "{}", said.stderr);
    assert_eq!(json(&out.join("partial/summary.json"))["partial"], true);
    assert_eq!(entries(&out.join("partial")), ["report.html", "summary.json"]);
    let rest: Vec<_> =
        contents(&out).into_iter().filter(|(name, _)| !name.starts_with("partial/")).collect();
    assert!(rest == complete, "the complete results are as they were");
    // Partial results that somebody has changed stay too; the next ones take another folder.
    fs::write(out.join("partial/report.html"), "with notes").unwrap();
    stopped_sensors(folder.path(), || {});
    assert_eq!(fs::read_to_string(out.join("partial/report.html")).unwrap(), "with notes");
    assert_eq!(entries(&out.join("partial-2")), ["report.html", "summary.json"]);
    let names = ["gain.csv", "partial", "partial-2", "report.html", "summary.json"];
    assert_eq!(entries(&out), names);
}

/// `bands` over results of `gain`, stopped after less than a second of some three.
#[test]
fn an_early_wish_to_stop_leaves_complete_results() {
    let folder = folder_with(&[("shelf.toml", SHELF)]);
    let out = folder.path().join("out");
    succeed(folder.path(), "gain shelf.toml --out out --quiet");
    let complete = contents(&out);
    for seconds in [0.0, 0.2, 0.5, 0.8] {
        let mut bands = command(folder.path(), "bands shelf.toml --out out --samples 5000 --quiet");
        let mut child = bands.stderr(Stdio::null()).spawn().unwrap();
        wait_until(&mut child, |_| is_in_the_making(&out));
        wait_until(&mut child, |child| processor_time(child) >= seconds);
        signal(&child, "INT");
        assert_eq!(child.wait().unwrap().code(), Some(3));
        let now = contents(&out);
        let rest: Vec<_> =
            now.into_iter().filter(|(name, _)| !name.starts_with("partial/")).collect();
        assert!(rest == complete, "after {seconds} s");
    }
    assert!(out.join("partial/report.html").exists(), "stopped with something found");
}

/// A paused pager reads nothing: the wish to stop still ends the program, and the results are placed.
#[test]
fn a_reader_that_takes_nothing_keeps_no_results() {
    let folder = folder_with(&[("telecom-shelf.toml", crate::support::TELECOM)]);
    let out = folder.path().join("out");
    // More JSON than a pipe holds.
    let mut run = command(folder.path(), "run telecom-shelf.toml --samples 20 --json --out out");
    let mut child = run.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    wait_until(&mut child, |_| out.join(".unfinished-results/new/summary.json").exists());
    sleep(std::time::Duration::from_millis(200));
    assert!(child.try_wait().unwrap().is_none(), "it waits for its reader");
    signal(&child, "TERM");
    let reader = child.stdout.take();
    let started = Instant::now();
    let status = loop {
        if let Some(status) = child.try_wait().unwrap() {
            break status;
        }
        assert!(started.elapsed().as_secs() < 30, "deaf while nobody reads");
        sleep(std::time::Duration::from_millis(10));
    };
    drop(reader);
    assert_eq!(status.code(), Some(3));
    seed_of_whole_set(&out);
}

/// Something comes into the way during the work: the answer is printed, and the files are kept.
#[test]
fn results_that_find_no_place_are_kept_and_told() {
    let folder = folder_with(&[("lamps.toml", LAMPS)]);
    let out = folder.path().join("out");
    let blocked = out.join("report.html");
    let said = stopped_sensors(folder.path(), || fs::create_dir(&blocked).unwrap());
    for words in ["out/report.html", "The new results are in out/unplaced"] {
        assert!(said.stderr.contains(words), "{}", said.stderr);
    }
    assert!(!said.stdout.contains("Report:"), "{}", said.stdout);
    assert_eq!(entries(&out), ["report.html", "unplaced"]);
    assert_eq!(entries(&out.join("unplaced")), ["report.html", "summary.json"]);
    assert!(blocked.is_dir());
}

/// `sh` with the program as `$0`.
fn shell(folder: &Path, script: &str) -> Said {
    let program = env!("CARGO_BIN_EXE_fairphase");
    let mut command = Command::new("sh");
    said(command.args(["-c", script, program]).current_dir(folder).output().unwrap())
}

#[test]
fn a_scenario_from_a_pipe_is_read_once() {
    let weak = changed(SHELF, "\"380 V\"", "\"30 V\"");
    let folder = folder_with(&[("shelf.toml", SHELF), ("weak.toml", &weak), ("parts.csv", PARTS)]);
    for (script, name) in [
        ("cat weak.toml | \"$0\" check /dev/stdin", "/dev/stdin"),
        ("\"$0\" run /dev/stdin --out out < weak.toml", "/dev/stdin"),
        ("cat weak.toml | \"$0\" check /dev/fd/3 3<&0 </dev/null", "/dev/fd/3"),
    ] {
        let said = shell(folder.path(), script);
        assert_eq!(said.status, 2, "{script}: {}", said.stderr);
        for words in [&format!("{name}:21:1"), "[[operating_point]]"] {
            assert!(said.stderr.contains(words), "{script}: {}", said.stderr);
        }
    }
    let said = shell(folder.path(), "\"$0\" units shelf.toml --parts /dev/stdin < parts.csv");
    assert_eq!(said.status, 0, "{}", said.stderr);
}

/// Nobody ever writes to the named pipe, and `/dev/zero` never ends.
#[test]
fn named_pipes_and_devices_are_refused_at_once() {
    let folder = folder_with(&[("shelf.toml", SHELF)]);
    let made = Command::new("mkfifo").arg(folder.path().join("pipe")).status().unwrap();
    assert!(made.success());
    for (arguments, words) in [
        ("check pipe", "cannot read pipe: it is a named pipe"),
        ("units shelf.toml --parts pipe --out out", "cannot read pipe: it is a named pipe"),
        ("run /dev/zero --out out", "cannot read /dev/zero: it is a device"),
        ("check .", "cannot read .: "),
    ] {
        let said = fairphase(folder.path(), arguments);
        assert_eq!((said.status, said.stdout.as_str()), (2, ""), "{arguments}");
        assert!(said.stderr.contains(words), "{arguments}: {}", said.stderr);
    }
    assert_eq!(entries(folder.path()), ["pipe", "shelf.toml"]);
}

/// Notes that nobody can read change nothing. `/dev/full` refuses every byte.
#[test]
fn a_standard_error_that_is_full_or_closed_loses_nothing() {
    let folder = folder_with(&[("shelf.toml", SHELF)]);
    let plain = succeed(folder.path(), "gain shelf.toml --out out");
    for (n, stream) in ["2>/dev/full", "2>&-"].iter().enumerate() {
        let script = format!("\"$0\" gain shelf.toml --samples 3 --out {n} {stream}");
        let said = shell(folder.path(), &script);
        assert_eq!((said.status, said.stdout), (0, plain.replace("out/", &format!("{n}/"))));
        let names = ["gain.csv", "report.html", "summary.json"];
        assert_eq!(entries(&folder.path().join(n.to_string())), names);
    }
}

#[test]
fn a_standard_output_that_is_full_takes_no_file_with_it() {
    let folder = folder_with(&[("shelf.toml", SHELF)]);
    for (out, option) in [("text", ""), ("json", "--json")] {
        let full = File::options().write(true).open("/dev/full").unwrap();
        let arguments = format!("gain shelf.toml --out {out} {option}");
        let output = command(folder.path(), &arguments).stdout(full).output().unwrap();
        let said = said(output);
        assert_eq!(said.status, 3, "{out}");
        assert!(said.stderr.contains("cannot write to standard output"), "{}", said.stderr);
        let names = ["gain.csv", "report.html", "summary.json"];
        assert_eq!(entries(&folder.path().join(out)), names);
    }
}

/// The command that is named next answers beside the results in the default folder, not over them.
#[test]
fn the_next_command_leaves_these_results_in_place() {
    let folder = folder_with(&[("shelf.toml", SHELF)]);
    let last = |said: &str| said.lines().last().unwrap().trim().to_owned();
    let said = succeed(folder.path(), "run shelf.toml --samples 400 --no-explain");
    let next = "fairphase bands shelf.toml --out reports/shelf-bands";
    assert_eq!(last(&said), next);
    let report = folder.path().join("reports/shelf/report.html");
    let before = std::fs::read(&report).unwrap();
    let next = next.strip_prefix("fairphase ").unwrap();
    fairphase(folder.path(), &format!("{next} --samples 700 --solver averaged"));
    assert_eq!(std::fs::read(&report).unwrap(), before);
    assert!(folder.path().join("reports/shelf-bands/report.html").exists());
    // In a folder that the user names nothing is replaced.
    let said = succeed(folder.path(), "run shelf.toml --samples 400 --no-explain --out here");
    assert_eq!(last(&said), "fairphase bands shelf.toml");
}
