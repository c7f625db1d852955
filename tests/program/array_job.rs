//! `scenarios/array-job.sh` on a scheduler of one node: a killed task is queued again, and the merged results are
//! those of one process.
#![allow(clippy::unwrap_used, reason = "a test")]

use std::fs;
use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::thread::sleep;
use std::time::{Duration, Instant};

use crate::support::{PATIENCE, SHELF, changed, folder_with, run_files, said, succeed};

const CONFIGURATION: &str = include_str!("../data/slurm.conf");
const SCRIPT: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/scenarios/array-job.sh");
const RUN: &str = "--samples 30_000 --solver averaged --no-explain";

fn output(command: &mut Command) -> String {
    let said = said(command.stdin(Stdio::null()).output().unwrap());
    assert_eq!(said.status, 0, "{command:?}: {}", said.stderr);
    said.stdout
}

/// A controller and a node, with a service of their own that signs their messages; all end with it.
struct Scheduler {
    folder: PathBuf,
}

impl Scheduler {
    fn start(folder: &Path) -> Self {
        let host = output(&mut Command::new("hostname"));
        let folder = folder.to_owned();
        for name in ["state", "spool", "log"] {
            fs::create_dir(folder.join(name)).unwrap();
        }
        let text = CONFIGURATION.replace("@DIR@", folder.to_str().unwrap());
        fs::write(folder.join("slurm.conf"), text.replace("@HOST@", host.trim())).unwrap();
        let key = folder.join("munge.key");
        fs::write(&key, [7; 1024]).unwrap();
        fs::set_permissions(&key, fs::Permissions::from_mode(0o600)).unwrap();
        // Clients of other users must reach the socket.
        fs::set_permissions(&folder, fs::Permissions::from_mode(0o755)).unwrap();
        let scheduler = Self { folder };
        let at = |name: &str| scheduler.folder.join(name).to_str().unwrap().to_owned();
        output(Command::new("munged").arg("--force").args([
            format!("--key-file={}", at("munge.key")),
            format!("--socket={}", at("munge.socket")),
            format!("--pid-file={}", at("munge.pid")),
            format!("--log-file={}", at("log/munge.log")),
            format!("--seed-file={}", at("munge.seed")),
        ]));
        output(&mut scheduler.command("slurmctld"));
        output(&mut scheduler.command("slurmd"));
        scheduler.wait("a node", |own| own.tell("sinfo -h -o %t").trim() == "idle");
        scheduler
    }

    fn command(&self, program: &str) -> Command {
        let mut command = Command::new(program);
        command
            .current_dir(&self.folder)
            .env("SLURM_CONF", self.folder.join("slurm.conf"))
            .env("FAIRPHASE", env!("CARGO_BIN_EXE_fairphase"));
        command
    }

    fn tell(&self, line: &str) -> String {
        let mut words = line.split_whitespace();
        let mut command = self.command(words.next().unwrap());
        // It answers with an error while it is busy.
        let output = command.args(words).stdin(Stdio::null()).output().unwrap();
        String::from_utf8(output.stdout).unwrap()
    }

    #[track_caller]
    fn wait(&self, what: &str, is_so: impl Fn(&Self) -> bool) {
        let started = Instant::now();
        while !is_so(self) {
            let is_late = started.elapsed() > PATIENCE;
            assert!(!is_late, "{what}: {}\n{}", self.tell("squeue"), self.said());
            sleep(Duration::from_millis(100));
        }
    }

    /// What tasks, controller and node have written.
    fn said(&self) -> String {
        let folders = [self.folder.join("the job/parts"), self.folder.join("log")];
        let logs = folders.iter().filter_map(|folder| fs::read_dir(folder).ok()).flatten();
        let paths = logs.map(|own| own.unwrap().path()).filter(|path| path.is_file());
        let text = |path: &Path| fs::read_to_string(path).unwrap();
        let logs = paths.map(|own| format!("{}:\n{}", own.to_string_lossy(), text(&own)));
        logs.collect::<Vec<String>>().join("\n")
    }

    /// Whether nothing of a job that was killed is left on its node.
    fn has_left(&self, job: &str) -> bool {
        let own = format!("job{job:0>5}");
        !self.folder.join("spool").join(own).exists()
            && !self.tell(&format!("scontrol show job {job}")).contains("COMPLETING")
    }
}

impl Drop for Scheduler {
    fn drop(&mut self) {
        for name in ["slurmd.pid", "slurmctld.pid", "munge.pid"] {
            if let Ok(number) = fs::read_to_string(self.folder.join(name)) {
                let _ = Command::new("kill").arg(number.trim()).status();
            }
        }
        // They write to their folder until they end.
        sleep(Duration::from_secs(1));
    }
}

/// The process that solves a part, by its command line and where it works.
fn solving(folder: &Path, part: &str) -> Option<u32> {
    let is_ours = |id: &u32| {
        let line = fs::read(format!("/proc/{id}/cmdline")).unwrap_or_default();
        let words: Vec<&[u8]> = line.split(|byte| *byte == 0).collect();
        let program = env!("CARGO_BIN_EXE_fairphase").as_bytes();
        words.first() == Some(&program)
            && words.contains(&part.as_bytes())
            && fs::read_link(format!("/proc/{id}/cwd")).is_ok_and(|own| own == folder)
    };
    let processes = fs::read_dir("/proc").unwrap();
    let mut ids =
        processes.filter_map(|own| own.unwrap().file_name().to_str()?.parse::<u32>().ok());
    ids.find(is_ours)
}

fn has_scheduler() -> bool {
    ["slurmctld", "slurmd", "munged", "sbatch"].iter().all(|program| {
        let found = Command::new("sh").args(["-c", &format!("command -v {program}")]).output();
        found.is_ok_and(|found| found.status.success())
    })
}

#[test]
fn a_killed_task_is_queued_again_and_the_merged_results_are_those_of_one_process() {
    if !has_scheduler() {
        assert!(std::env::var_os("CI").is_none(), "no Slurm: .ci/run installs it");
        eprintln!("skipped: no Slurm here (Debian: apt-get install slurm-wlm munge)");
        return;
    }
    // The script passes a path on that a shell would divide.
    let folder = folder_with(&[("a shelf.toml", &changed(SHELF, "seed = 1", "seed = 5"))]);
    let scheduler = Scheduler::start(folder.path());
    let mut submit = scheduler.command("sh");
    submit.args([SCRIPT, "3", "the job", "a shelf.toml"]).args(RUN.split(' '));
    let merge = output(&mut submit).trim().to_owned();
    scheduler.wait("the second part at work", |_| {
        solving(folder.path(), "2/3").is_some()
            && folder.path().join("the job/parts/part-2/steps/step-01-of-2/summary.json").exists()
    });
    let killed = solving(folder.path(), "2/3").unwrap();
    output(Command::new("kill").args(["-9", &killed.to_string()]));
    let requeued = |own: &Scheduler| {
        let states = own.tell("squeue -h -a -o %K,%T,%A");
        let task = states.lines().find(|line| line.starts_with("2,PENDING"));
        task.map(|line| line.rsplit(',').next().unwrap().to_owned())
    };
    scheduler.wait("a task queued again", |own| requeued(own).is_some());
    assert!(scheduler.tell("squeue -h -o %A,%T").contains(&format!("{merge},PENDING")));
    // The scheduler would wait two minutes, for what the killed task still tells of its end.
    let again = requeued(&scheduler).unwrap();
    scheduler.wait("the end of the killed task", |own| own.has_left(&again));
    scheduler.wait("the task at work again", |own| {
        own.tell(&format!("scontrol update JobId={again} StartTime=now"));
        own.tell(&format!("scontrol show job {again}")).contains("Restarts=1")
            && requeued(own).is_none()
    });
    let results = folder.path().join("the job/summary.json");
    scheduler.wait("the merged results", |_| results.exists());
    scheduler.wait("an empty queue", |own| own.tell("squeue -h").trim().is_empty());
    let mut one = crate::support::command(folder.path(), "run");
    one.arg("a shelf.toml").args(RUN.split(' ')).args(["--out", "one", "--quiet"]);
    output(&mut one);
    let said = fs::read_to_string(folder.path().join("the job/parts/merge.log")).unwrap();
    assert!(said.contains("Report: the job/report.html"), "{said}");
    let parts = folder.path().join("the job/parts");
    fs::rename(&parts, folder.path().join("parts")).unwrap();
    assert!(run_files(&folder.path().join("the job")) == run_files(&folder.path().join("one")));
    let usage = said_of_script(&scheduler);
    assert!(usage.contains("array-job.sh PARTS OUT SCENARIO"), "{usage}");
    succeed(folder.path(), "merge parts/part-3 parts/part-1 parts/part-2 --out again --quiet");
}

fn said_of_script(scheduler: &Scheduler) -> String {
    let said = said(scheduler.command("sh").arg(SCRIPT).output().unwrap());
    assert_eq!(said.status, 2);
    said.stdout
}
