//! Whatever befalls the program while it works: inputs and foreign files stay as they are, a set of results
//! that looks complete is complete, the exit status tells the truth, and the message says what and where.
//!
//! `FAIRPHASE_TRIALS` says how many random trials each kind takes.
#![allow(missing_docs, clippy::panic, clippy::print_stderr, clippy::unwrap_used, reason = "a test")]

use std::collections::BTreeMap;
use std::fs;
use std::hash::Hasher;
use std::io::Read;
use std::os::unix::fs::symlink;
use std::os::unix::process::ExitStatusExt;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, ExitStatus, Stdio};
use std::thread::sleep;
use std::time::Duration;

use rand::seq::IndexedRandom;
use rand::{RngExt, SeedableRng, rngs::ChaCha8Rng};
use tempfile::TempDir;
use twox_hash::XxHash64;

use crate::support::{SHELF, command, entries, fairphase, json, signal, succeed};

/// Commands that take a moment and write different files; measured parts are invented.
const WORKS: [&str; 6] = [
    "run shelf.toml --samples 40 --solver averaged",
    "run shelf.toml --samples 40 --solver averaged --json --figures",
    "gain shelf.toml --json",
    "gain shelf.toml",
    "units shelf.toml --parts parts.csv --json",
    "faults shelf.toml --samples 5",
];
/// What a command that opens the folder, brings it in order and stops is given.
const STOPS: &str = "units shelf.toml --parts wrong.csv --quiet";
/// Longest delay until something happens: all of these commands have ended by then.
const MOMENTS: Duration = Duration::from_millis(900);
const TRIALS: u64 = 8;

const PARTS: &str = "unit,phase,resonant_inductance_H,resonant_capacitance_F,\
magnetising_inductance_H,turns_ratio,series_resistance_ohm,rectifier_drop_V,\
flying_capacitance_F,flying_capacitance_return_leg_F\n\
a,1,,,,,,,,\na,2,,,,,,,,\na,3,,,,,,,,\n";

/// How a program ended: its status, and its standard error if that was open to the end.
struct Ending {
    status: ExitStatus,
    stderr: String,
}

/// One trial in a folder of its own: `work` holds inputs, `foreign` what is nobody's business, and
/// `work/out` the results.
struct Trial {
    name: String,
    random: ChaCha8Rng,
    folder: TempDir,
    disk: Option<Disk>,
    before: BTreeMap<PathBuf, Vec<u8>>,
}

/// A small disk of its own, where the system lets one be mounted.
struct Disk(PathBuf);

impl Disk {
    fn mount(place: &Path, options: &str) -> Option<Self> {
        let mut command = Command::new("mount");
        command.args(["-t", "tmpfs", "-o", options, "trial"]).arg(place).stderr(Stdio::null());
        let is_mounted = command.status().is_ok_and(|status| status.success());
        is_mounted.then(|| Self(place.to_owned()))
    }

    fn remount(&self, options: &str) {
        let mut command = Command::new("mount");
        let options = format!("remount,{options}");
        assert!(command.args(["-o", &options]).arg(&self.0).status().unwrap().success());
    }
}

impl Drop for Disk {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg("-l").arg(&self.0).status();
    }
}

impl Trial {
    /// A folder with inputs and foreign files; every other time there are former results.
    fn new(kind: &str, number: u64) -> Self {
        let random = ChaCha8Rng::seed_from_u64(number * 131 + kind.len() as u64);
        let folder = tempfile::tempdir().unwrap();
        for (name, text) in [
            ("work/shelf.toml", SHELF),
            ("work/parts.csv", PARTS),
            ("work/wrong.csv", "unit\n"),
            ("foreign/report.html", "of the user"),
            ("foreign/new/samples.parquet", "of the user"),
            ("foreign/old/summary.json", "{}"),
        ] {
            let path = folder.path().join(name);
            fs::create_dir_all(path.parent().unwrap()).unwrap();
            fs::write(path, text).unwrap();
        }
        let name = format!("{kind}, trial {number}");
        Self { name, random, folder, disk: None, before: BTreeMap::new() }
    }

    fn work(&self) -> PathBuf {
        self.folder.path().join("work")
    }

    fn out(&self) -> PathBuf {
        self.work().join("out")
    }

    /// Former results and files of the user's beside them, or a part of that.
    fn furnish(&mut self) {
        if self.random.random() {
            succeed(&self.work(), "gain shelf.toml --quiet --out out");
        }
        if self.random.random() {
            fs::create_dir_all(self.out().join("mine")).unwrap();
            fs::write(self.out().join("mine/notes.txt"), "of the user").unwrap();
            fs::write(self.out().join("report.txt"), "of the user").unwrap();
        }
    }

    /// What must be the same afterwards.
    fn remember(&mut self) {
        self.before = foreign_files(self.folder.path());
    }

    fn any_work(&mut self) -> String {
        let seed = self.random.random_range(2..1000);
        format!("{} --seed {seed} --out out", WORKS.choose(&mut self.random).unwrap())
    }

    fn moment(&mut self) -> Duration {
        MOMENTS.mul_f64(self.random.random_range(0.0_f64..1.0).powi(2))
    }

    /// A command under limits that the shell sets.
    fn limited(&self, limits: &str, arguments: &str) -> Ending {
        let script = format!("trap '' XFSZ; {limits} exec \"$0\" {arguments}");
        let mut command = Command::new("sh");
        command.args(["-c", &script, env!("CARGO_BIN_EXE_fairphase")]).current_dir(self.work());
        let child = command.stdout(Stdio::null()).stderr(Stdio::piped()).spawn().unwrap();
        ended(child)
    }

    fn started(&self, arguments: &str) -> Child {
        let mut command = command(&self.work(), arguments);
        command.stdout(Stdio::null()).stderr(Stdio::piped()).spawn().unwrap()
    }

    /// What must hold after each ending: of status, message and files.
    #[track_caller]
    fn check(&self, ending: &Ending, words: &[&str]) {
        let Ending { status, stderr } = ending;
        let name = &self.name;
        assert!(!stderr.contains("panicked"), "{name}: {stderr}");
        match status.code() {
            Some(0) => assert!(self.out().join("summary.json").exists(), "{name}: no results"),
            Some(3) => {
                let says = words.is_empty() || words.iter().any(|word| stderr.contains(word));
                assert!(stderr.contains("error: ") && says, "{name}: {stderr}");
            }
            Some(code) => panic!("{name}: status {code}: {stderr}"),
            None => {}
        }
        self.check_files();
    }

    /// The next command brings the folder in order: one whole set or none, and nothing else.
    #[track_caller]
    fn check_files(&self) {
        let name = &self.name;
        if let Some(disk) = &self.disk {
            disk.remount("size=9m,nr_inodes=1000");
        }
        let opened = fairphase(&self.work(), &format!("{STOPS} --out out"));
        assert_eq!(opened.status, 2, "{name}: {}", opened.stderr);
        assert!(opened.stderr.contains("wrong.csv:1"), "{name}: {}", opened.stderr);
        let foreign = foreign_files(self.folder.path());
        assert!(foreign == self.before, "{name}: {:?}", foreign.keys().collect::<Vec<_>>());
        if self.out().exists() {
            check_set(&self.out(), name);
        }
    }
}

/// All files below a folder, by path.
fn snapshot(folder: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    files_where(folder, &|_| true)
}

/// All files that are neither results nor on their way to become some, by path.
fn foreign_files(folder: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    let is_of_the_user =
        |path: &Path| ["mine", "report.txt"].iter().any(|name| path.ends_with(name));
    files_where(folder, &|path| {
        !path.parent().is_some_and(|own| own.ends_with("out")) || is_of_the_user(path)
    })
}

/// Files by path, links as what they lead to; a folder that is not wanted is not entered.
fn files_where(folder: &Path, is_wanted: &impl Fn(&Path) -> bool) -> BTreeMap<PathBuf, Vec<u8>> {
    let mut found = BTreeMap::new();
    for path in entries(folder).into_iter().map(|name| folder.join(name)) {
        if path.is_symlink() {
            let target = fs::read_link(&path).unwrap();
            found.insert(path, target.into_os_string().into_encoded_bytes());
        } else if !is_wanted(&path) {
        } else if path.is_dir() {
            found.extend(files_where(&path, is_wanted));
        } else {
            found.insert(path.clone(), fs::read(&path).unwrap());
        }
    }
    found
}

/// Every file of a set is there with its checksum, and no other result is.
#[track_caller]
fn check_set(out: &Path, trial: &str) {
    let mut found = entries(out);
    found.retain(|name| !["mine", "report.txt", "unplaced"].contains(&name.as_str()));
    if found.is_empty() {
        return;
    }
    assert!(found.contains(&"summary.json".to_owned()), "{trial}: {found:?}");
    let summary = json(&out.join("summary.json"));
    for (name, sum) in summary["checksums"].as_object().unwrap() {
        let mut hasher = XxHash64::with_seed(0);
        hasher.write(&fs::read(out.join(name)).unwrap());
        let is_same = format!("{:016x}", hasher.finish()) == sum.as_str().unwrap();
        assert!(is_same || name == "summary.json", "{trial}: {name} is of another set");
    }
    let listed = summary["checksums"].as_object().unwrap().keys().cloned();
    let of_pages =
        found.iter().filter(|name| name.starts_with("figures") || name.starts_with("tables"));
    let mut expected: Vec<String> = listed.chain(of_pages.cloned()).collect();
    expected.sort();
    expected.dedup();
    expected.retain(|name| !name.contains('/'));
    assert_eq!(found, expected, "{trial}");
}

/// A link to the user's file.
fn link(from: &Path, to: &Path, is_hard: bool) {
    if is_hard { fs::hard_link(from, to) } else { symlink(from, to) }.unwrap();
}

fn ended(child: Child) -> Ending {
    let output = child.wait_with_output().unwrap();
    Ending { status: output.status, stderr: String::from_utf8_lossy(&output.stderr).into_owned() }
}

/// Runs trials of a kind.
fn trials(kind: &str, trial: impl Fn(&mut Trial)) {
    let asked = std::env::var("FAIRPHASE_TRIALS").ok().map(|text| text.parse().unwrap());
    for number in 0..asked.unwrap_or(TRIALS) {
        let mut own = Trial::new(kind, number);
        trial(&mut own);
    }
}

#[test]
fn killed_or_asked_to_stop() {
    trials("killed", |trial| {
        trial.furnish();
        trial.remember();
        let (work, moment) = (trial.any_work(), trial.moment());
        let name = ["KILL", "INT", "TERM"].choose(&mut trial.random).unwrap();
        let mut child = trial.started(&work);
        sleep(moment);
        if child.try_wait().unwrap().is_none() {
            signal(&child, name);
        }
        let ending = ended(child);
        // Before it listens, a wish to stop ends it as the system does.
        let by = ending.status.signal();
        assert!([None, Some(9), Some(2), Some(15)].contains(&by), "{}: {by:?}", trial.name);
        trial.check(&ending, &["interrupted"]);
    });
}

#[test]
fn the_disk_is_full() {
    trials("full", |trial| {
        trial.furnish();
        trial.remember();
        let work = trial.any_work();
        let blocks = trial.random.random_range(0..600);
        let ending = trial.limited(&format!("ulimit -f {blocks};"), &work);
        trial.check(&ending, &["out", "standard output"]);
    });
}

#[test]
fn a_small_disk_is_full() {
    trials("small", |trial| {
        fs::create_dir(trial.out()).unwrap();
        let kilobytes = trial.random.random_range(4..900);
        let inodes = *[4, 8, 12, 1000].choose(&mut trial.random).unwrap();
        let options = format!("size={kilobytes}k,nr_inodes={inodes}");
        let Some(disk) = Disk::mount(&trial.out(), &options) else {
            eprintln!("no disk can be mounted here: not tested");
            return;
        };
        trial.disk = Some(disk);
        if trial.random.random() {
            fairphase(&trial.work(), "gain shelf.toml --quiet --out out");
        }
        trial.remember();
        let work = trial.any_work();
        let ending = ended(trial.started(&work));
        trial.check(&ending, &["out", "No space"]);
    });
}

#[test]
fn the_folder_cannot_be_written_to() {
    trials("read-only", |trial| {
        fs::create_dir(trial.out()).unwrap();
        let Some(disk) = Disk::mount(&trial.out(), "size=9m") else {
            eprintln!("no disk can be mounted here: not tested");
            return;
        };
        trial.furnish();
        trial.remember();
        let whole = snapshot(&trial.out());
        disk.remount("ro");
        trial.disk = Some(disk);
        let deep = trial.random.random();
        let work = trial.any_work() + if deep { "/below/it" } else { "" };
        let ending = ended(trial.started(&work));
        assert_eq!(ending.status.code(), Some(3), "{}: {}", trial.name, ending.stderr);
        assert!(ending.stderr.contains("output folder out"), "{}: {}", trial.name, ending.stderr);
        assert!(snapshot(&trial.out()) == whole, "{}", trial.name);
    });
}

#[test]
fn the_memory_is_too_small() {
    trials("memory", |trial| {
        trial.furnish();
        trial.remember();
        let work = trial.any_work();
        let kilobytes = 1.1_f64.powf(trial.random.random_range(90.0..155.0));
        let ending = trial.limited(&format!("ulimit -v {kilobytes:.0};"), &work);
        // The system's loader says 127, an allocation that fails aborts the program.
        if ending.status.code() == Some(127) {
            return trial.check_files();
        }
        let by = ending.status.signal();
        assert!([None, Some(6), Some(9), Some(11)].contains(&by), "{}: {by:?}", trial.name);
        trial.check(&ending, &[]);
    });
}

#[test]
fn nobody_reads_what_it_says() {
    trials("pipes", |trial| {
        trial.furnish();
        trial.remember();
        let work = trial.any_work();
        let ending = if trial.random.random() {
            let closed = ["1>&-", "2>&-", "1>&- 2>&-", "0<&- 1>&- 2>&-"].choose(&mut trial.random);
            trial.limited("", &format!("{work} {}", closed.unwrap()))
        } else {
            let mut command = command(&trial.work(), &work);
            let mut child = command.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
            let mut some = vec![0; trial.random.random_range(0..3000)];
            let _ = child.stdout.take().unwrap().read_exact(&mut some);
            ended(child)
        };
        match ending.status.code() {
            Some(0) => trial.check(&ending, &[]),
            // Where standard error is closed too, only the status tells.
            Some(3) if ending.stderr.is_empty() => trial.check_files(),
            Some(3) => trial.check(&ending, &["standard output"]),
            other => panic!("{}: {other:?}: {}", trial.name, ending.stderr),
        }
        check_set(&trial.out(), &trial.name);
        assert!(trial.out().join("summary.json").exists(), "{}: results are kept", trial.name);
    });
}

#[test]
fn too_few_files_may_be_open() {
    trials("handles", |trial| {
        trial.furnish();
        trial.remember();
        let work = trial.any_work();
        let handles = trial.random.random_range(3..16);
        let ending = trial.limited(&format!("ulimit -n {handles};"), &work);
        if ending.status.code() == Some(127) {
            return trial.check_files();
        }
        trial.check(&ending, &["Too many open files"]);
    });
}

#[test]
fn two_work_in_one_folder() {
    trials("two", |trial| {
        trial.furnish();
        trial.remember();
        let (works, pause) = ([trial.any_work(), trial.any_work()], trial.moment() / 3);
        let first = trial.started(&works[0]);
        sleep(pause);
        let second = trial.started(&works[1]);
        if trial.random.random_range(0..3) == 0 {
            sleep(trial.moment() / 3);
            signal(&second, "KILL");
        }
        let endings = [ended(first), ended(second)];
        let is_done = |ending: &Ending| ending.status.code() == Some(0);
        let is_killed = |ending: &Ending| ending.status.signal() == Some(9);
        assert!(endings.iter().any(|own| is_done(own) || is_killed(own)), "{}", trial.name);
        for ending in endings.iter().filter(|own| !is_done(own) && !is_killed(own)) {
            trial.check(ending, &["another fairphase is at work in the folder out"]);
        }
        trial.check_files();
    });
}

/// Places of results that are links to the user's files and folders.
#[test]
fn links_lead_elsewhere() {
    trials("links", |trial| {
        let (work, out) = (trial.work(), trial.out());
        let (is_hard, is_cut_off) = (trial.random.random(), trial.random.random_range(0..3) == 0);
        let names = ["report.html", "summary.json", "samples.parquet", "units.csv", "gain.csv"];
        let hidden = [".unfinished-results", ".unfinished-results/new", ".unfinished-results/old"];
        match trial.random.random_range(0..5) {
            0 => {
                fs::create_dir(work.join("real")).unwrap();
                symlink("real", &out).unwrap();
            }
            1 => symlink("nowhere", &out).unwrap(),
            2 => symlink("../foreign", &out).unwrap(),
            3 => {
                fs::create_dir(&out).unwrap();
                for name in names.sample(&mut trial.random, 2) {
                    link(&work.join("../foreign/report.html"), &out.join(name), is_hard);
                }
            }
            _ => {
                let place = out.join(hidden.choose(&mut trial.random).unwrap());
                fs::create_dir_all(place.parent().unwrap()).unwrap();
                symlink(work.join("../foreign"), place).unwrap();
            }
        }
        trial.remember();
        let (arguments, moment) = (trial.any_work(), trial.moment());
        let mut child = trial.started(&arguments);
        if is_cut_off {
            sleep(moment);
            if child.try_wait().unwrap().is_none() {
                signal(&child, "KILL");
            }
        }
        let ending = ended(child);
        assert!(!ending.stderr.contains("panicked"), "{}: {}", trial.name, ending.stderr);
        let status = ending.status;
        let is_known = status.signal() == Some(9) || matches!(status.code(), Some(0 | 2 | 3));
        assert!(is_known, "{}: {status}: {}", trial.name, ending.stderr);
        fairphase(&trial.work(), &format!("{STOPS} --out out"));
        for (path, bytes) in &trial.before {
            let now = if path.is_symlink() {
                fs::read_link(path).unwrap().into_os_string().into_encoded_bytes()
            } else {
                fs::read(path).unwrap_or_default()
            };
            assert!(now == *bytes, "{}: {arguments}: {status}: {path:?}", trial.name);
        }
    });
}
